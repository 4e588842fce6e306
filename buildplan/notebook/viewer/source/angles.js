// Directions as angles: round from the front to the right, and up.
import { Vector3 } from "three";

export const RADIANS = Math.PI / 180;

export function direct(round, up) {
  return new Vector3(Math.cos(up) * Math.sin(round), -Math.cos(up) * Math.cos(round), Math.sin(up));
}

export function angles(offset) {
  const away = offset.length();
  return { round: Math.atan2(offset.x, -offset.y), up: Math.asin(offset.z / away), away };
}

export const toward = ([round, up]) => direct(round * RADIANS, up * RADIANS);
