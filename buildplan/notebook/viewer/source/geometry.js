// A body's arrays from the block of bytes, and the corner colours of everything that is painted.
import { BufferAttribute, BufferGeometry, Color } from "three";

const SMOOTH_COSINE = Math.cos(Math.PI / 6); // edges that turn less than 30 degrees look smooth
const BUSY = 512; // corners around a vertex beyond which it is not smoothed

export function floats(data, [first, count]) {
  const start = data.byteOffset + first;
  return new Float32Array(data.buffer.slice(start, start + 4 * count));
}

export function indices(data, [first, count]) {
  const start = data.byteOffset + first;
  return new Uint32Array(data.buffer.slice(start, start + 4 * count));
}

// "#rrggbb" is sRGB; light is computed in linear values, and Color converts.
export function linear(code) {
  const { r, g, b } = new Color(code);
  return [r, g, b];
}

export function readBody(data, item) {
  const vertices = floats(data, item.vertices);
  const facets = indices(data, item.facets);
  const corners = facets.length;
  const position = new Float32Array(3 * corners);
  for (let c = 0; c < corners; c++) {
    const v = 3 * facets[c];
    position[3 * c] = vertices[v];
    position[3 * c + 1] = vertices[v + 1];
    position[3 * c + 2] = vertices[v + 2];
  }
  const { normal, areaNormal } = cornerNormals(position, facets, vertices.length / 3);
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(position, 3));
  geometry.setAttribute("normal", new BufferAttribute(normal, 3));
  geometry.setAttribute("color", new BufferAttribute(new Float32Array(3 * corners), 3));
  geometry.computeBoundingBox();
  geometry.computeBoundingSphere();
  return { geometry, facets, areaNormal, base: linear(item.colour) };
}

function cornerNormals(position, facets, vertexCount) {
  const count = facets.length / 3;
  const areaNormal = new Float32Array(3 * count);
  const unit = new Float32Array(3 * count);
  const start = new Uint32Array(vertexCount + 1);
  for (let f = 0; f < count; f++) {
    const p = 9 * f;
    const ux = position[p + 3] - position[p], uy = position[p + 4] - position[p + 1];
    const uz = position[p + 5] - position[p + 2], vx = position[p + 6] - position[p];
    const vy = position[p + 7] - position[p + 1], vz = position[p + 8] - position[p + 2];
    const n = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
    const length = Math.hypot(n[0], n[1], n[2]);
    for (let k = 0; k < 3; k++) {
      areaNormal[3 * f + k] = n[k];
      unit[3 * f + k] = length > 0 ? n[k] / length : 0;
      start[facets[3 * f + k] + 1]++;
    }
  }
  for (let v = 0; v < vertexCount; v++) start[v + 1] += start[v];
  const around = new Uint32Array(3 * count);
  const next = start.slice();
  for (let c = 0; c < 3 * count; c++) around[next[facets[c]]++] = (c / 3) | 0;
  const normal = new Float32Array(9 * count);
  for (let c = 0; c < 3 * count; c++) {
    const own = 3 * ((c / 3) | 0), vertex = facets[c];
    let x = 0, y = 0, z = 0;
    if (start[vertex + 1] - start[vertex] <= BUSY) {
      for (let k = start[vertex]; k < start[vertex + 1]; k++) {
        const g = 3 * around[k];
        const turn = unit[own] * unit[g] + unit[own + 1] * unit[g + 1] + unit[own + 2] * unit[g + 2];
        if (turn < SMOOTH_COSINE) continue;
        x += areaNormal[g]; y += areaNormal[g + 1]; z += areaNormal[g + 2];
      }
    }
    const length = Math.hypot(x, y, z);
    normal[3 * c] = length > 0 ? x / length : unit[own];
    normal[3 * c + 1] = length > 0 ? y / length : unit[own + 1];
    normal[3 * c + 2] = length > 0 ? z / length : unit[own + 2];
  }
  return { normal, areaNormal };
}

export function fill(body, [r, g, b]) {
  const array = body.geometry.attributes.color.array;
  for (let k = 0; k < array.length; k += 3) { array[k] = r; array[k + 1] = g; array[k + 2] = b; }
  body.geometry.attributes.color.needsUpdate = true;
}

// share 1 covers what is below; less lets it through
export function paint(body, facets, colour, share) {
  const array = body.geometry.attributes.color.array;
  for (const f of facets) {
    for (let k = 9 * f; k < 9 * f + 9; k++) {
      array[k] += share * (colour[k % 3] - array[k]);
    }
  }
  body.geometry.attributes.color.needsUpdate = true;
}

export function paintValues(body, values, look) {
  const scale = look.bar.map(linear), nothing = linear(look.no_value);
  const array = body.geometry.attributes.color.array;
  const steps = scale.length - 1;
  for (let c = 0; c < body.facets.length; c++) {
    const value = values.numbers[values.per === "facet" ? (c / 3) | 0 : body.facets[c]];
    const share = Math.min(1, Math.max(0, (value - values.low) / (values.high - values.low)));
    const colour = Number.isNaN(value) ? nothing : scale[Math.round(share * steps)];
    array[3 * c] = colour[0]; array[3 * c + 1] = colour[1]; array[3 * c + 2] = colour[2];
  }
  body.geometry.attributes.color.needsUpdate = true;
}

// Ends of the lines where a body's numbers cross one of their limits: three numbers a point.
export function limitLines(body, values) {
  const found = [];
  for (const [limit] of values.limits) {
    if (values.per === "facet") facetLines(body, values.numbers, limit, found);
    else vertexLines(body, values.numbers, limit, found);
  }
  return new Float32Array(found);
}

// edges between a facet below the limit and one that is not
function facetLines({ facets, geometry }, numbers, limit, found) {
  const position = geometry.attributes.position.array;
  const most = facets.reduce((a, b) => Math.max(a, b), 0) + 1;
  const seen = new Map();
  for (let c = 0; c < facets.length; c++) {
    const f = (c / 3) | 0, end = c % 3 === 2 ? c - 2 : c + 1;
    if (Number.isNaN(numbers[f])) continue;
    const a = facets[c], b = facets[end];
    const edge = a < b ? a * most + b : b * most + a, other = seen.get(edge);
    if (other === undefined) { seen.set(edge, numbers[f] < limit); continue; }
    if (other === (numbers[f] < limit)) continue;
    for (const corner of [c, end]) found.push(position[3 * corner], position[3 * corner + 1], position[3 * corner + 2]);
  }
}

// straight across each facet, where its corners lie on both sides
function vertexLines({ facets, geometry }, numbers, limit, found) {
  const position = geometry.attributes.position.array;
  for (let c = 0; c < facets.length; c += 3) {
    const over = [0, 1, 2].map((k) => numbers[facets[c + k]] - limit);
    if (over.some(Number.isNaN)) continue;
    for (let k = 0; k < 3; k++) {
      const from = over[k], to = over[(k + 1) % 3];
      if (from < 0 === to < 0) continue;
      const share = from / (from - to), p = 3 * (c + k), q = 3 * (c + ((k + 1) % 3));
      for (let axis = 0; axis < 3; axis++) found.push(position[p + axis] + share * (position[q + axis] - position[p + axis]));
    }
  }
}
