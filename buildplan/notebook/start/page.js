// The handshake: a number goes to the kernel and must come back; WebGL must draw a pixel that is read again.
const PATIENCE_MS = 20000;

function drawPixel() {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 1;
  const gl = canvas.getContext("webgl2");
  if (!gl) return "";
  gl.clearColor(0, 0, 1, 1);
  gl.clear(gl.COLOR_BUFFER_BIT);
  const pixel = new Uint8Array(4);
  gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel);
  const version = gl.getParameter(gl.VERSION);
  gl.getExtension("WEBGL_lose_context")?.loseContext();
  return pixel[2] === 255 ? version : "";
}

function render({ model, el }) {
  const signs = model.get("signs");
  el.classList.add("bp-answer");
  el.innerHTML =
    '<h2></h2><div class="scroll"><table><thead><tr><th>what</th><th class="w">answer</th></tr></thead>' +
    "<tbody><tr><td>controls: page to kernel and back</td><td class='w'></td></tr>" +
    "<tr><td>3-D picture: the browser's WebGL</td><td class='w'></td></tr></tbody></table></div>";
  const heading = el.querySelector("h2");
  const [trip, view] = [...el.querySelectorAll("td.w")];
  const say = (place, kind, words) => {
    place.innerHTML = signs[kind] || "";
    place.append(" " + words);
  };

  const webgl = drawPixel();
  if (webgl) say(view, "ok", "ok, " + webgl);
  else say(view, "caution", "does not answer: views stay still pictures. Switch WebGL on, or use another browser");
  say(heading, "", "Asking the kernel …");
  say(trip, "", "asked; the kernel answers when its cells are done");

  const own = Math.random();
  let asked = performance.now();
  let times = 0;
  const ask = () => {
    asked = performance.now();
    model.send({ own, times });
  };
  const late = setTimeout(() => {
    say(heading, "stop", "The kernel does not answer the page");
    say(trip, "stop", "no answer yet: the kernel works on another cell, or it has stopped (menu Kernel, Restart Kernel)");
  }, PATIENCE_MS);
  const heard = (message) => {
    if (message.own !== own || message.times !== times) return;
    clearTimeout(late);
    times += 1;
    if (times === 1) return ask(); // the first waited for the cells that were running
    const took = Math.max(1, Math.round(performance.now() - asked));
    say(trip, "ok", `ok, ${took} ms`);
    say(heading, webgl ? "ok" : "caution", webgl ? "Controls and 3-D pictures work in this browser" : "Controls work, 3-D pictures do not");
    model.set("told", { round_trip_ms: took, webgl });
    model.save_changes();
  };
  model.on("msg:custom", heard);
  ask();
  return () => {
    clearTimeout(late);
    model.off("msg:custom", heard);
  };
}

export default { render };
