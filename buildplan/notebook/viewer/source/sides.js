// The side that a place is looked at from.
import { Vector3 } from "three";
import { toward } from "./angles.js";

export const USUAL_DEG = [34, 27]; // from the front, round to the right, and up
const TRIED_DEG = [27, 62, -32].flatMap((up) => [34, -34, 80, -80, 146, -146].map((round) => [round, up]));

// From where a spot is seen best, and whether nothing stands in the way there.
export function bestSide(stage, number) {
  const spot = stage.spots[number];
  const usual = [toward(USUAL_DEG), true];
  if (spot.item < 0) return usual;
  const { areaNormal, geometry, group } = stage.bodies[spot.item];
  const box = stage.boxOf(number).expandByScalar(1e-3 * stage.radius);
  const position = geometry.attributes.position.array;
  const corner = (f) => new Vector3(
    (position[9 * f] + position[9 * f + 3] + position[9 * f + 6]) / 3,
    (position[9 * f + 1] + position[9 * f + 4] + position[9 * f + 7]) / 3,
    (position[9 * f + 2] + position[9 * f + 5] + position[9 * f + 8]) / 3).applyMatrix4(group.matrix);
  let own = [...spot.facets].filter((f) => box.containsPoint(corner(f)));
  if (!own.length) own = [...spot.facets];
  const probes = own.length <= 5 ? own : [0, 1, 2, 3, 4].map((k) => own[Math.floor((k * (own.length - 1)) / 4)]);
  const ranked = TRIED_DEG.map(toward).map((direction, order) => {
    let seen = 0;
    for (const f of own) {
      const n = new Vector3(areaNormal[3 * f], areaNormal[3 * f + 1], areaNormal[3 * f + 2]).transformDirection(group.matrix);
      const area = Math.hypot(areaNormal[3 * f], areaNormal[3 * f + 1], areaNormal[3 * f + 2]);
      seen += area * Math.max(0, n.dot(direction));
    }
    return { direction, seen: seen * (1 - 0.02 * order) };
  }).sort((a, b) => b.seen - a.seen).slice(0, 8);
  for (const { direction } of ranked) {
    for (const f of probes) {
      const n = new Vector3(areaNormal[3 * f], areaNormal[3 * f + 1], areaNormal[3 * f + 2]).transformDirection(group.matrix);
      if (n.dot(direction) <= 0.05) continue;
      const from = corner(f).addScaledVector(direction, 1e-3 * stage.radius);
      if (!stage.hits(from, direction).length) return [direction, true];
    }
  }
  return [ranked[0].direction, false];
}
