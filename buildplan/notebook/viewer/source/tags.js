// Numbers and names over the picture: always whole, moved along with what they name.
import { Box3, Vector3 } from "three";
import { make } from "./panel.js";

const EDGE = 4; // pixels kept free around a tag
const STEM = 9; // a tag stands so many pixels over its place, so that the place is seen

export class Tags {
  constructor(over, stage, header, choose) {
    this.over = over;
    this.stage = stage;
    const names = header.items.length > 1 && header.items.some((item) => item.apart.some((x) => x !== 0)) && !header.poses;
    this.list = header.spots.map((spot, index) => {
      const tag = make("button", `bp-tag bp-${spot.kind}`, `${index + 1}`);
      tag.type = "button";
      tag.tabIndex = -1; // the list does the same by keyboard
      tag.setAttribute("aria-hidden", "true");
      tag.title = spot.what;
      tag.addEventListener("click", () => choose(index));
      return { tag, at: () => stage.boxOf(index)?.getCenter(new Vector3()) ?? null };
    });
    if (names) {
      header.items.forEach((item, index) => {
        const tag = make("span", "bp-tag bp-name", item.name);
        const body = stage.bodies[index];
        const at = () => body.group.visible
          ? new Box3().copy(body.geometry.boundingBox).applyMatrix4(body.group.matrix).getCenter(new Vector3()) : null;
        this.list.push({ tag, at });
      });
    }
    for (const { tag } of this.list) over.append(tag);
    this.rule = make("span", "bp-rule");
    this.rule.title = "at the point that the picture turns about";
    over.append(this.rule);
  }

  // a round length that takes a fifth of the picture's width or less
  measure() {
    const most = this.stage.pixel() * Math.min(140, this.over.clientWidth / 5);
    if (!(most > 0)) return;
    const power = 10 ** Math.floor(Math.log10(most));
    const length = power * [5, 2, 1].find((k) => k * power <= most * 1.0001);
    this.rule.style.width = `${length / this.stage.pixel()}px`;
    this.rule.textContent = `${length >= 1 ? Math.round(length) : Number(length.toPrecision(1))}\u00a0mm`;
  }

  place() {
    this.measure();
    const width = this.over.clientWidth, height = this.over.clientHeight;
    const { offsetLeft, offsetTop, offsetWidth, offsetHeight } = this.rule;
    const taken = [{ left: offsetLeft, top: offsetTop, w: offsetWidth, h: offsetHeight }];
    for (const one of this.list) {
      const point = one.at();
      const spot = point && this.stage.at(point);
      const outside = !spot || !spot.shown || this.stage.cutAway(point) || spot.x < 0 || spot.x > 1 || spot.y < 0 || spot.y > 1;
      one.tag.hidden = outside;
      if (outside) continue;
      const w = one.tag.offsetWidth, h = one.tag.offsetHeight;
      const clamp = (value, most) => Math.max(EDGE, Math.min(most - EDGE, value));
      const left = clamp(spot.x * width - w / 2, width - w);
      const named = one.tag.tagName === "SPAN";
      let top = clamp(spot.y * height - (named ? h / 2 : h + STEM), height - h);
      const wished = top;
      const hits = (t) => taken.find((o) => left < o.left + o.w && o.left < left + w && t < o.top + o.h && o.top < t + h);
      for (let k = 0, other; k < 12 && (other = hits(top)); k++) top = other.top + other.h + 1;
      top = clamp(top, height - h);
      taken.push({ left, top, w, h });
      if (!named) one.tag.classList.toggle("bp-points", top === wished && Math.abs(left + w / 2 - spot.x * width) < 2);
      one.tag.style.transform = `translate(${Math.round(left)}px, ${Math.round(top)}px)`;
    }
  }

  // paler where something stands before it
  fade() {
    for (const one of this.list) {
      const point = one.tag.hidden || one.tag.tagName === "SPAN" ? null : one.at();
      one.tag.classList.toggle("bp-behind", Boolean(point && this.stage.covered(point)));
    }
  }
}
