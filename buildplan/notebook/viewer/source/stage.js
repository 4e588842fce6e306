// What is drawn: bodies in soft light, cut by a plane, seen by a camera that can fly to a place.
// A stage stands whether it is drawn or not: it is drawn only while it is awake.
import {
  AmbientLight, BackSide, Box3, BufferAttribute, BufferGeometry, DirectionalLight, FrontSide, Group,
  HemisphereLight, LineBasicMaterial, LineSegments, Matrix4, Mesh, MeshBasicMaterial,
  MeshLambertMaterial, PerspectiveCamera, Plane, Raycaster, Scene, Sphere, Vector2, Vector3,
  WebGLRenderer,
} from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import { fill, floats, indices, limitLines, linear, paint, paintValues, readBody } from "./geometry.js";
import { angles, direct, RADIANS, toward } from "./angles.js";
import { bestSide, USUAL_DEG } from "./sides.js";

const CUT_COLOUR = "#8d857a"; // of the inside of a wall where it is cut
const FLIGHT_MS = 450;
const DEEP_DEG = 32, FLAT_DEG = 1.5; // how wide the camera sees, with and without perspective
const ROOM = 1.7; // a close view is this much wider than what it shows
const LEAST_SHARE = 0.14; // and shows at least this share of the whole
const SOFT = 0.45; // how strongly the places that are not chosen are painted
const GRAVITY = ["stop", "caution", "note", "step"];
const AXES = [new Vector3(1, 0, 0), new Vector3(0, 1, 0), new Vector3(0, 0, 1)];

export class Stage {
  constructor(frame, header, data, tell) {
    this.frame = frame; // holds the picture
    this.header = header;
    // called with "moved" after a change, "still" when it has come to rest, "lost" when the browser
    // has taken the means to draw
    this.tell = tell;
    this.renderer = null;
    this.frames = 0;
    this.white = false;
    this.scene = new Scene();
    this.camera = new PerspectiveCamera(DEEP_DEG, 1.5, 1, 10000);
    this.camera.up.set(0, 0, 1);
    this.sky = new HemisphereLight(0xffffff, 0xb8b0a4, 1.5);
    this.sky.position.set(0, 0, 1);
    this.sun = new DirectionalLight(0xffffff, 2.0);
    this.sun.position.set(-0.7, 0.9, 1.0);
    this.even = new AmbientLight(0xffffff, 0);
    this.camera.add(this.sun);
    this.scene.add(this.sky, this.even, this.camera);
    this.cut = new Plane(new Vector3(0, 0, -1), 0);
    this.bodies = header.items.map((item) => this.addBody(item, data));
    this.spots = header.spots.map((spot) => ({ ...spot, facets: indices(data, spot.facets) }));
    this.values = header.values.map((one) => ({ ...one, numbers: floats(data, one.data) }));
    this.poses = {};
    for (const [group, place] of Object.entries(header.poses?.groups ?? {})) this.poses[group] = floats(data, place);
    this.owners = this.bodies.map(() => new Map());
    this.spots.forEach((spot, number) => { // the gravest owns a facet that two are about
      if (spot.item < 0) return;
      const owner = this.owners[spot.item];
      for (const f of spot.facets) {
        const now = owner.get(f);
        if (now === undefined || GRAVITY.indexOf(spot.kind) < GRAVITY.indexOf(this.spots[now].kind)) owner.set(f, number);
      }
    });
    this.state = { apart: 0, pose: 0, section: {} };
    this.whole = this.bounds();
    this.radius = Math.max(1e-6, this.whole.getBoundingSphere(new Sphere()).radius);
    this.controls = new OrbitControls(this.camera, frame);
    frame.style.touchAction = "pan-y";
    this.controls.enableZoom = false; // the wheel scrolls the page until the picture has the focus
    this.controls.rotateSpeed = 0.8;
    this.controls.addEventListener("change", () => this.draw());
    this.controls.addEventListener("start", () => { this.flight = null; });
    this.caster = new Raycaster();
    const [eye, target] = this.homeView();
    this.place(eye, target);
  }

  addBody(item, data) {
    const body = readBody(data, item);
    const planes = [];
    const front = new MeshLambertMaterial({ vertexColors: true, side: FrontSide, clippingPlanes: planes, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
    const inside = new MeshBasicMaterial({ color: CUT_COLOUR, side: BackSide, clippingPlanes: planes });
    if (item.clear) Object.assign(front, { transparent: true, opacity: 0.45, depthWrite: false });
    body.group = new Group();
    body.group.matrixAutoUpdate = false;
    body.mesh = new Mesh(body.geometry, front);
    body.back = new Mesh(body.geometry, inside);
    body.back.visible = !item.clear;
    body.group.add(body.mesh, body.back);
    this.scene.add(body.group);
    body.item = item;
    return body;
  }

  // --- awake or asleep ---------------------------------------------------------------------------

  // Takes the means to draw; throws where the browser has none.
  wake() {
    if (this.renderer || this.gone) return;
    const canvas = document.createElement("canvas");
    const wanted = { antialias: true, alpha: true, depth: true, stencil: false, premultipliedAlpha: true };
    const context = canvas.getContext("webgl2", wanted);
    if (!context) throw new Error("no WebGL 2");
    const renderer = new WebGLRenderer({ canvas, context, ...wanted });
    renderer.setPixelRatio(Math.min(2, window.devicePixelRatio || 1));
    renderer.localClippingEnabled = true;
    canvas.addEventListener("webglcontextlost", () => {
      if (this.renderer !== renderer) return;
      this.sleep();
      this.tell("lost");
    });
    this.renderer = renderer;
    this.canvas = canvas;
    this.frame.replaceChildren(canvas);
    this.ground(this.white);
    if (this.width) renderer.setSize(this.width, this.height, false);
    this.draw();
  }

  // Gives the means to draw back; its last picture stays.
  sleep() {
    if (!this.renderer) return;
    if (this.flight) { const { to } = this.flight; this.flight = null; this.place(...to); }
    cancelAnimationFrame(this.pending);
    this.pending = 0;
    const { renderer, canvas } = this;
    if (!renderer.getContext().isContextLost()) {
      renderer.render(this.scene, this.camera);
      const shot = document.createElement("img");
      shot.src = canvas.toDataURL("image/png");
      shot.alt = "";
      this.frame.replaceChildren(shot);
    }
    this.renderer = null;
    this.forget();
    renderer.dispose();
    renderer.forceContextLoss();
  }

  // what the card holds; the arrays stay
  forget() {
    for (const body of this.bodies) {
      body.geometry.dispose();
      body.mesh.material.dispose();
      body.back.material.dispose();
      body.lines?.geometry.dispose();
      body.lines?.material.dispose();
    }
  }

  // --- state -------------------------------------------------------------------------------------

  colour(by, chosen) {
    this.by = by;
    for (const body of this.bodies) fill(body, body.base);
    const values = this.values[by];
    this.sky.intensity = values ? 0.8 : 1.5;
    this.even.intensity = values ? 1.5 : 0;
    this.sun.intensity = values ? 0.9 : 2.0;
    if (values) {
      this.bodies.forEach((body, k) => fill(body, k === values.item ? body.base : linear(this.header.look.no_value)));
      paintValues(this.bodies[values.item], values, this.header.look);
    }
    this.bodies.forEach((body, k) => this.drawLimits(body, values?.item === k ? values : null));
    const shown = this.spots.map((spot, number) => ({ spot, number }))
      .filter(({ spot, number }) => spot.item >= 0 && (number === chosen
        || (chosen < 0 && !values && (spot.kind === "stop" || spot.kind === "caution"))))
      .sort((a, b) => GRAVITY.indexOf(b.spot.kind) - GRAVITY.indexOf(a.spot.kind));
    for (const { spot, number } of shown) {
      const colour = linear(this.header.look.paint[spot.kind]);
      paint(this.bodies[spot.item], spot.facets, colour, number === chosen ? 1 : SOFT);
    }
    this.draw();
  }

  // dark lines on the surface where the numbers cross a limit
  drawLimits(body, values) {
    if (body.lined === values) return;
    body.lined = values;
    if (body.lines) {
      body.group.remove(body.lines);
      body.lines.geometry.dispose();
      body.lines.material.dispose();
      body.lines = null;
    }
    if (!values?.limits.length) return;
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(limitLines(body, values), 3));
    const clippingPlanes = this.cutting ? [this.cut] : [];
    body.lines = new LineSegments(geometry, new LineBasicMaterial({ color: "#1d2125", clippingPlanes }));
    body.group.add(body.lines);
    body.group.updateMatrixWorld(true);
  }

  stand(apart, pose) {
    this.state.apart = apart;
    this.state.pose = pose;
    for (const body of this.bodies) {
      const matrix = body.group.matrix.identity();
      const poses = this.poses[body.item.group];
      if (poses) {
        const m = poses.subarray(16 * pose, 16 * pose + 16);
        matrix.set(...m);
      }
      const [x, y, z] = body.item.apart;
      matrix.premultiply(new Matrix4().makeTranslation(apart * x, apart * y, apart * z));
      body.group.matrixWorldNeedsUpdate = true;
      body.group.updateMatrixWorld(true);
    }
    this.whole = this.bounds();
    this.draw();
  }

  hide(hidden) {
    this.bodies.forEach((body, k) => { body.group.visible = !hidden.includes(k); });
    this.draw();
  }

  section({ axis, at_mm: at, far } = {}) {
    const on = axis === 0 || axis === 1 || axis === 2;
    if (on) {
      const sign = far ? 1 : -1;
      this.cut.set(AXES[axis].clone().multiplyScalar(sign), -sign * at);
    }
    this.cutting = on;
    for (const body of this.bodies) {
      for (const mesh of [body.mesh, body.back, body.lines]) if (mesh) mesh.material.clippingPlanes = on ? [this.cut] : [];
    }
    this.draw();
  }

  ground(white) {
    this.white = white;
    this.renderer?.setClearColor(0xffffff, white ? 1 : 0);
    this.draw();
  }

  // --- camera ------------------------------------------------------------------------------------

  bounds() {
    const box = new Box3();
    for (const body of this.bodies) box.union(new Box3().copy(body.geometry.boundingBox).applyMatrix4(body.group.matrix));
    return box.isEmpty() ? new Box3(new Vector3(-1, -1, -1), new Vector3(1, 1, 1)) : box;
  }

  // so far away that all corners of a box are seen
  frameOf(box, direction) {
    const target = box.getCenter(new Vector3());
    const right = new Vector3().crossVectors(this.camera.up, direction).normalize();
    const up = new Vector3().crossVectors(direction, right);
    const tall = Math.tan((this.camera.fov * Math.PI) / 360), wide = tall * this.camera.aspect;
    let far = 0;
    for (let k = 0; k < 8; k++) {
      const corner = new Vector3(k & 1 ? box.max.x : box.min.x, k & 2 ? box.max.y : box.min.y, k & 4 ? box.max.z : box.min.z).sub(target);
      const near = corner.dot(direction);
      far = Math.max(far, near + (1.06 * Math.abs(corner.dot(right))) / wide, near + (1.06 * Math.abs(corner.dot(up))) / tall);
    }
    return [target.clone().addScaledVector(direction, Math.max(far, 1e-3 * this.radius)), target];
  }

  homeView() { return this.frameOf(this.whole, toward(USUAL_DEG)); }

  place(eye, target) {
    this.camera.position.copy(eye);
    this.controls.target.copy(target);
    this.setDepth();
    this.controls.update();
    this.draw();
  }

  setDepth() {
    const away = this.camera.position.distanceTo(this.whole.getCenter(new Vector3()));
    const reach = this.whole.getBoundingSphere(new Sphere()).radius;
    this.camera.near = Math.max((away - reach) * 0.9, reach * 2e-3);
    this.camera.far = away + 1.2 * reach;
    this.camera.updateProjectionMatrix();
  }

  fly(eye, target) {
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) { this.flight = null; this.place(eye, target); this.rest(); return; }
    if (!this.renderer) { this.place(eye, target); this.rest(); return; }
    this.flight = {
      begin: performance.now(), from: [this.camera.position.clone(), this.controls.target.clone()], to: [eye, target],
    };
    this.draw();
  }

  home() { this.fly(...this.homeView()); }

  // the whole from one side, angles as in toward()
  look(angles) { this.fly(...this.frameOf(this.whole, toward(angles))); }

  // without perspective: lengths compare, whatever their distance
  flatten(on) {
    const was = this.camera.fov, now = on ? FLAT_DEG : DEEP_DEG;
    if (was === now) return;
    const half = (deg) => Math.tan((deg * Math.PI) / 360);
    const scale = half(was) / half(now), { target } = this.controls;
    const moved = (eye, about) => about.clone().add(eye.clone().sub(about).multiplyScalar(scale));
    this.camera.fov = now;
    if (this.flight) {
      for (const end of [this.flight.from, this.flight.to]) end[0] = moved(end[0], end[1]);
    }
    this.place(moved(this.camera.position, target), target.clone());
  }

  // millimetres that one pixel shows at the point that the picture turns about
  pixel() {
    const away = this.camera.position.distanceTo(this.controls.target);
    return (2 * away * Math.tan((this.camera.fov * Math.PI) / 360)) / (this.height || 1);
  }

  // The place of a spot as it stands now; null where it has none.
  boxOf(number) {
    const spot = this.spots[number];
    if (!spot || spot.box.length !== 6) return null;
    const box = new Box3(new Vector3(...spot.box.slice(0, 3)), new Vector3(...spot.box.slice(3)));
    return spot.item >= 0 ? box.applyMatrix4(this.bodies[spot.item].group.matrix) : box;
  }

  // To the place of a spot, from where it is seen. Returns whether something stands in the way.
  visit(number) {
    const box = this.boxOf(number);
    if (!box) { this.home(); return null; }
    const size = box.getSize(new Vector3()), middle = box.getCenter(new Vector3());
    const least = (LEAST_SHARE * 2 * this.radius) / Math.sqrt(3);
    size.multiplyScalar(ROOM).max(new Vector3(least, least, least));
    const shown = new Box3().setFromCenterAndSize(middle, size);
    const [direction, free] = bestSide(this, number);
    this.fly(...this.frameOf(shown, direction));
    return free ? null : { direction, middle };
  }

  // --- what is where -----------------------------------------------------------------------------

  hits(from, direction) {
    this.caster.set(from, direction);
    this.caster.near = 0;
    this.caster.far = Infinity;
    const meshes = this.bodies.filter((body) => body.group.visible && !body.item.clear).map((body) => body.mesh);
    return this.caster.intersectObjects(meshes, false).filter((hit) => !this.cutting || this.cut.distanceToPoint(hit.point) >= 0);
  }

  // x, y as shares of the picture from its left and top
  pick(x, y) {
    this.caster.setFromCamera(new Vector2(2 * x - 1, 1 - 2 * y), this.camera);
    const { origin, direction } = this.caster.ray.clone();
    const hit = this.hits(origin, direction)[0];
    if (!hit) return null;
    const item = this.bodies.findIndex((body) => body.mesh === hit.object);
    const values = this.values[this.by];
    let value = null;
    if (values && values.item === item) {
      value = values.numbers[values.per === "facet" ? hit.faceIndex : this.bodies[item].facets[3 * hit.faceIndex]];
    }
    return { item, facet: hit.faceIndex, spot: this.owners[item].get(hit.faceIndex) ?? -1, point: hit.point, value };
  }

  // place of a point on the picture as shares, and whether something stands before it
  at(point) {
    const p = point.clone().project(this.camera);
    return { x: (p.x + 1) / 2, y: (1 - p.y) / 2, shown: p.z < 1 };
  }

  cutAway(point) { return Boolean(this.cutting) && this.cut.distanceToPoint(point) < -1e-6 * this.radius; }

  covered(point) {
    const direction = this.camera.position.clone().sub(point);
    const away = direction.length();
    direction.normalize();
    const from = point.clone().addScaledVector(direction, 0.02 * this.radius);
    return this.hits(from, direction).some((hit) => hit.distance < away);
  }

  // --- drawing -----------------------------------------------------------------------------------

  size(width, height) {
    const home = this.seenWhole === undefined;
    Object.assign(this, { width, height });
    this.renderer?.setSize(width, height, false);
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    if (home) { this.place(...this.homeView()); this.seenWhole = true; this.rest(); }
    this.draw();
  }

  draw() {
    if (this.pending || this.gone || !this.renderer) return;
    this.pending = requestAnimationFrame((now) => {
      this.pending = 0;
      if (this.flight) this.step(now);
      this.setDepth();
      this.renderer.render(this.scene, this.camera);
      this.frames += 1;
      this.tell("moved");
      if (this.flight) this.draw(); else this.rest();
    });
  }

  // round the target, not through it
  step(now) {
    const { begin, from, to } = this.flight;
    const share = Math.min(1, Math.max(0, (now - begin) / FLIGHT_MS));
    const eased = share * share * (3 - 2 * share);
    const [a, b] = [from, to].map(([eye, target]) => angles(eye.clone().sub(target)));
    let round = b.round - a.round;
    if (round > Math.PI) round -= 2 * Math.PI;
    if (round < -Math.PI) round += 2 * Math.PI;
    const target = from[1].clone().lerp(to[1], eased);
    const away = a.away * (b.away / a.away) ** eased;
    const offset = direct(a.round + eased * round, a.up + eased * (b.up - a.up)).multiplyScalar(away);
    this.controls.target.copy(target);
    this.camera.position.copy(share === 1 ? to[0] : offset.add(target));
    if (share === 1) this.flight = null;
    this.controls.update();
  }

  rest() {
    clearTimeout(this.resting);
    this.resting = setTimeout(() => { if (!this.gone && !this.flight) this.tell("still"); }, 120);
  }

  turn(round, up) { // radians
    const { target } = this.controls;
    const now = angles(this.camera.position.clone().sub(target));
    const height = Math.min(1.5, Math.max(-1.5, now.up + up));
    this.flight = null;
    this.place(target.clone().addScaledVector(direct(now.round + round, height), now.away), target.clone());
  }

  zoom(factor) {
    const { target } = this.controls;
    const offset = this.camera.position.clone().sub(target).multiplyScalar(factor);
    const unit = (this.radius * Math.tan((DEEP_DEG * RADIANS) / 2)) / Math.tan((this.camera.fov * RADIANS) / 2);
    const away = Math.min(12 * unit, Math.max(0.02 * unit, offset.length()));
    this.flight = null;
    this.place(target.clone().addScaledVector(offset.normalize(), away), target.clone());
  }

  dispose() {
    this.gone = true;
    cancelAnimationFrame(this.pending);
    clearTimeout(this.resting);
    this.controls.dispose();
    const { renderer } = this;
    this.renderer = null;
    this.forget();
    renderer?.dispose();
    renderer?.forceContextLoss();
  }
}
