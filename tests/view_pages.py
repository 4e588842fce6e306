"""The 3-D view on a plain page: the shipped script, mounted with a model that lives in the page."""

import io
from base64 import b64encode

import numpy as np
from PIL import Image

from buildplan.notebook.viewer import widget
from buildplan.notebook.viewer.pack import pack_scene

MOUNT = """async ({code, css, models, dark}) => {
  document.body.dataset.jpThemeLight = String(!dark);
  document.body.style.cssText = 'margin:8px;background:' + (dark ? '#111' : '#fff');
  const sheet = document.createElement('style');
  sheet.textContent = css;
  document.head.append(sheet);
  const url = URL.createObjectURL(new Blob([code], {type: 'text/javascript'}));
  const {default: view} = await import(url);
  window.models = []; window.remove = [];
  const bytes = text => new DataView(Uint8Array.from(atob(text), c => c.charCodeAt(0)).buffer);
  for (const {state, blocks} of models) {
    const values = {...state}, calls = {};
    for (const [name, text] of Object.entries(blocks)) values[name] = bytes(text);
    const model = {
      saved: 0, get: name => values[name], save_changes: () => { model.saved++; }, send: () => {},
      set: (name, value) => {
        if (values[name] === value) return;
        values[name] = value;
        for (const call of calls['change:' + name] ?? []) call();
      },
      on: (name, call) => (calls[name] ??= []).push(call),
      off: (name, call) => { calls[name] = (calls[name] ?? []).filter(other => other !== call); },
    };
    const el = document.createElement('div');
    document.body.append(el);
    window.models.push(model);
    window.remove.push(view.render({model, el}));
  }
}"""
AT_REST = """() => { const view = document.querySelector('.bp-view');
  return view.dataset.picture === 'still' || (view.dataset.frames && !view.dataset.moving); }"""
ASKED = ("chosen", "apart_frac", "pose", "colour_by", "hidden", "section", "flat", "white")
REST = {"chosen": -1, "apart_frac": 0.0, "pose": 0, "colour_by": -1, "hidden": [], "section": {}}


def text_of(data):
    return b64encode(data).decode()


class Shown:
    """One or more views on a page, with what they did."""

    def __init__(self, page, *scenes, dark=False, still=b"", **state):
        self.page, self.said = page, []
        page.on("console", lambda message: self.said.append((message.type, message.text)))
        models = []
        for scene in scenes:
            header, data = pack_scene(scene)
            own = REST | {"flat": False, "white": False, "header": dict(header)} | state
            blocks = {"data": text_of(data), "still": text_of(still)}
            models.append({"state": own, "blocks": blocks})
        code = (widget.BUNDLE / "view.js").read_text("utf-8")
        asked = {"code": code, "css": widget.style_sheet(), "models": models, "dark": dark}
        page.evaluate(MOUNT, asked)
        self.rest()

    def rest(self):
        """Wait until nothing moves."""
        self.page.wait_for_timeout(60)
        self.page.wait_for_function(AT_REST)

    def get(self, name):
        return self.page.evaluate("name => window.models[0].get(name)", name)

    def control(self, name):
        return self.page.locator(f"[data-control={name}]")

    def picture(self):
        """The picture without what lies over it, as (height, width, 3)."""
        self.page.add_style_tag(content=".bp-over{visibility:hidden}")
        shot = self.page.locator(".bp-frame").first.screenshot()
        self.page.evaluate("() => document.head.lastElementChild.remove()")
        picture = np.asarray(Image.open(io.BytesIO(shot)).convert("RGB")).astype(int)
        return picture[:-2]  # a rule closes the picture

    def place(self, point_mm):
        """Where a point falls on the picture, in pixels from its left and top."""
        box = self.page.locator(".bp-frame").first.bounding_box()
        eye, target = np.array(self.get("eye_mm")), np.array(self.get("target_mm"))
        toward = (eye - target) / np.linalg.norm(eye - target)
        right = np.cross([0.0, 0.0, 1.0], toward)
        right /= np.linalg.norm(right)
        offset = np.asarray(point_mm, dtype=float) - eye
        scale = box["height"] / 2 / np.tan(np.radians(16.0)) / -(offset @ toward)
        up = np.cross(toward, right)
        return {
            "x": box["width"] / 2 + scale * (offset @ right),
            "y": box["height"] / 2 - scale * (offset @ up),
        }

    def errors(self):
        return [text for kind, text in self.said if kind == "error" or "contexts" in text]


def differing(a, b):
    """Share of the pixels that differ clearly."""
    return float((np.abs(a - b).max(axis=2) > 12).mean())


def covered(picture, ground=255):
    """Share of the pixels that are not the ground."""
    return float((np.abs(picture - ground).max(axis=2) > 6).mean())
