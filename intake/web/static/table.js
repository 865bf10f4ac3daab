// The light table: two pictures side by side with one zoom and pan, or the right one laid over the left one.
import { Pane } from "./pane.js";
import { firstTiles } from "./tiles.js";

const table = document.getElementById("table");
const look = { mode: "side", lifted: false, film: false, points: false, leader: null, marked: null, fits: false, top: "" };
let panes = null;

const through = (m, x, y) => {
  const w = m[6] * x + m[7] * y + m[8];
  return [(m[0] * x + m[1] * y + m[2]) / w, (m[3] * x + m[4] * y + m[5]) / w];
};

const numbers = (text) => (text ? text.split(",").map(Number) : null);
const tools = document.getElementById("tools");
const blend = document.getElementById("blend");
const amount = document.getElementById("amount");
const cut = document.getElementById("cut");
const drawn = document.getElementById("drawn");
const said = document.getElementById("said");
const shares = numbers(table?.dataset.shares);
const press = (name, on) => tools.querySelector(`[data-do="${name}"]`)?.setAttribute("aria-pressed", String(on));
const say = (words) => { said.textContent = words; };

// How lengths change from the left picture to the right one, at a place given in shares.
const spread = (x, y) => {
  const step = 1e-3;
  const [x0, y0] = through(shares, x, y);
  const [x1, y1] = through(shares, x + step, y);
  const [x2, y2] = through(shares, x, y + step);
  const tall = panes.b.tall / panes.a.tall;
  return Math.sqrt(Math.abs(((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) * tall)) / step;
};

const back = (m) => {
  const [a, b, c, d, e, f, g, h, i] = m;
  return [e * i - f * h, c * h - b * i, b * f - c * e, f * g - d * i, a * i - c * g, c * d - a * f, d * h - e * g, b * g - a * h, a * e - b * d];
};

// The pane that is not led shows what the other shows, as near.
const follow = () => {
  if (look.mode !== "side" || !panes.a.picture || !panes.b.picture) return;
  const leads = look.leader ?? panes.a;
  const goes = leads === panes.a ? panes.b : panes.a;
  const middle = leads.port.getCenter(true);
  const zoom = leads.port.getZoom(true);
  let [x, y] = [middle.x, middle.y / leads.tall];
  let times = goes.port.getHomeZoom() / leads.port.getHomeZoom();
  if (shares) {
    const onLeft = leads === panes.a ? [x, y] : through(back(shares), x, y);
    const grown = spread(...onLeft);
    [x, y] = leads === panes.a ? through(shares, x, y) : onLeft;
    times = leads === panes.a ? 1 / grown : grown;
  }
  if (zoom <= leads.port.getHomeZoom() * 1.001) {
    goes.port.goHome(true);
    return;
  }
  goes.port.zoomTo(zoom * times, null, true);
  goes.port.panTo(new window.OpenSeadragon.Point(x, y * goes.tall), true);
};

const svg = (name, values) => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  return made;
};

// Where a share of a pane's picture lies on the table, in pixels.
const onTable = (pane, x, y) => {
  const place = pane.port.viewportToViewerElementCoordinates(new window.OpenSeadragon.Point(x, y * pane.tall));
  const frame = pane.view.getBoundingClientRect();
  const whole = table.getBoundingClientRect();
  return [place.x + frame.left - whole.left, place.y + frame.top - whole.top];
};

const draw = () => {
  const shapes = [];
  for (const pane of Object.values(panes)) {
    const { x, y } = pane.port.getCenter(true);
    pane.view.dataset.seen = [x, y / pane.tall, pane.port.getZoom(true) / pane.port.getHomeZoom()].map((v) => v.toFixed(3)).join(" ");
  }
  if (look.points) {
    const flat = numbers(table.dataset.points) ?? [];
    for (let n = 0; n + 3 < flat.length; n += 4) {
      const here = onTable(panes.a, flat[n], flat[n + 1]);
      const there = look.mode === "side" ? onTable(panes.b, flat[n + 2], flat[n + 3]) : onTable(panes.a, ...through(back(shares), flat[n + 2], flat[n + 3]));
      shapes.push(svg("line", { x1: here[0], y1: here[1], x2: there[0], y2: there[1] }));
      for (const [x, y] of [here, there]) shapes.push(svg("circle", { cx: x, cy: y, r: 4 }));
    }
  }
  if (look.marked) {
    const [left, top, width, height] = look.marked;
    const [x, y] = onTable(panes.a, left, top);
    const [x1, y1] = onTable(panes.a, left + width, top + height);
    shapes.push(svg("rect", { x, y, width: x1 - x, height: y1 - y }));
    if (look.mode === "side" && shares) {
      const corners = [[left, top], [left + width, top], [left + width, top + height], [left, top + height]];
      shapes.push(svg("polygon", { points: corners.map(([u, v]) => onTable(panes.b, ...through(shares, u, v)).join(" ")).join(" ") }));
    }
  }
  drawn.replaceChildren(...shapes);
  const whole = table.getBoundingClientRect();
  const low = panes.a.view.getBoundingClientRect().bottom;
  drawn.style.clipPath = `inset(10px 10px ${Math.max(0, whole.bottom - low)}px 10px)`;
};

// What is cut away of the one on top: all that lies to the left of the line.
const split = () => {
  const over = panes.a.over;
  const isCut = look.mode === "split";
  cut.hidden = !isCut || look.lifted;
  if (!over) return;
  if (!isCut) {
    over.setClip(null);
    return;
  }
  const width = Number(panes.a.view.dataset.width);
  const height = Number(panes.a.view.dataset.height);
  const at = (panes.a.view.clientWidth * amount.value) / 100;
  cut.style.left = `${at}px`;
  const place = panes.a.port.viewerElementToViewportCoordinates(new window.OpenSeadragon.Point(at, 0));
  const x = Math.min(width - 1, Math.max(0, place.x * width));
  over.setClip(new window.OpenSeadragon.Rect(x, 0, width - x, height));
};

const mix = () => {
  const over = panes.a.over;
  const shown = look.mode === "side" || look.lifted ? 0 : look.mode === "over" ? amount.value / 100 : 1;
  if (over) {
    over.setCompositeOperation(look.mode === "difference" && !look.lifted ? "difference" : "source-over");
    over.setOpacity(shown);
  }
  table.dataset.shown = String(shown);
  table.classList.toggle("differing", look.mode === "difference" && !look.lifted);
  press("flick", look.lifted);
  split();
};

const show = (wanted) => {
  if (wanted !== "side" && !shares) return;
  const isWhole = !panes.a.isNear;
  look.mode = wanted;
  look.lifted = false;
  if (panes.a.over && look.top !== overBase()) layOver().then(sharpen, () => undefined);
  const over = wanted !== "side";
  if (over) look.leader = panes.a;
  table.querySelector("[data-pane=b]").hidden = over;
  for (const name of ["side", "over", "split", "difference"]) press(name, name === wanted);
  blend.hidden = !over;
  amount.disabled = wanted === "difference";
  amount.setAttribute("aria-label", wanted === "split" ? "Where the line lies" : "How much of the right one shows");
  const caption = table.querySelector("[data-over]");
  if (caption) caption.hidden = !over;
  requestAnimationFrame(() => {
    look.fits = isWhole;
    panes.a.viewer.forceResize();
    mix();
    follow();
    draw();
  });
  table.scrollIntoView({ block: "nearest" });
};

const outline = (item) => {
  const { width, height } = panes.a.view.dataset;
  const corners = table.dataset.outline?.split(",").map((corner) => corner.split(" ").map(Number)) ?? [];
  if (corners.length) item.setCroppingPolygons([corners.map(([x, y]) => ({ x: x * Number(width), y: y * Number(height) }))]);
};

// What lies on top; for the difference with the tones of what lies below, so that exposure does not count as drawing.
const overBase = () => panes.a.base({ tiles: look.mode === "difference" ? table.dataset.overLike : table.dataset.over, film: table.dataset.overFilm });

const layOver = async () => {
  if (!table.dataset.over) return;
  look.top = overBase();
  const item = await panes.a.lay(look.top, 1, { opacity: 0 });
  outline(item);
  mix();
};

const filled = async (pane) => {
  await pane.lay(pane.base(pane.view.dataset), 0);
};

const sharpen = async () => {
  for (const pane of [panes.a, panes.b]) {
    if (!pane.isNear) continue;
    const wanted = [[pane.base(pane.view.dataset), () => filled(pane)]];
    if (pane === panes.a && table.dataset.over) wanted.push([overBase(), layOver]);
    for (const [base, again] of wanted) {
      pane.sharpen(base, say).then((is) => { if (is) again(); }, () => undefined);
    }
  }
};

const setFilm = async () => {
  look.film = !look.film;
  press("film", look.film);
  for (const pane of [panes.a, panes.b]) pane.film = look.film;
  for (const words of table.querySelectorAll("[data-says]")) words.textContent = look.film ? "the film itself" : words.dataset.says;
  await Promise.all([...[panes.a, panes.b].filter((p) => p.view.dataset.film).map(filled), panes.a.over ? layOver() : null]);
  sharpen();
};

const lead = () => look.leader ?? panes.a;
const near = (factor) => {
  look.fits = false;
  lead().port.zoomBy(factor).applyConstraints();
};
const whole = () => {
  look.marked = null;
  lead().port.goHome();
};
const move = (x, y) => {
  const port = lead().port;
  port.panBy(port.deltaPointsFromPixels(new window.OpenSeadragon.Point(x, y))).applyConstraints();
};

// Go to a place of the left picture: left, top, width and height as shares of it, upright.
export const jump = (box) => {
  const [left, top, width, height] = box;
  const room = 0.5 * Math.max(width, height, 0.02);
  const tall = panes.a.tall;
  look.leader = panes.a;
  look.marked = box;
  look.fits = false;
  panes.a.port.fitBounds(new window.OpenSeadragon.Rect(left - room, (top - room) * tall, width + 2 * room, (height + 2 * room) * tall));
  table.scrollIntoView({ block: "nearest" });
  draw();
};

const setPoints = () => {
  look.points = !look.points;
  press("points", look.points);
  draw();
};

const step = (by) => {
  amount.value = Number(amount.value) + by;
  look.lifted = false;
  mix();
};

// What the page after this one shows first is asked for while this one is looked at.
const prefetch = async () => {
  const next = document.querySelector("a[data-next]")?.href;
  if (!next) return;
  const answer = await fetch(next);
  if (!answer.ok) return;
  const there = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("table");
  const pane = panes.a.view.getBoundingClientRect();
  for (const view of there?.querySelectorAll(".view") ?? []) {
    const { tiles, width, height } = view.dataset;
    for (const address of firstTiles(tiles, Number(width), Number(height), Number(there.dataset.tile), pane)) new Image().src = address;
  }
};

// After the panes have changed their size: what was seen whole is seen whole again.
const settle = () => {
  if (look.fits) lead().port.goHome(true);
  look.fits = false;
  follow();
  split();
  draw();
};

const begin = async () => {
  const tile = Number(table.dataset.tile);
  panes = Object.fromEntries(["a", "b"].map((name) => [name, new Pane(table.querySelector(`[data-pane=${name}] .view`), tile)]));
  for (const pane of Object.values(panes)) {
    const leads = () => { look.leader = pane; };
    pane.view.addEventListener("pointerenter", leads);
    pane.view.addEventListener("pointerdown", () => table.focus({ preventScroll: true }));
    pane.view.addEventListener("wheel", leads, { capture: true, passive: true });
    pane.view.addEventListener("dblclick", () => (pane.isNear ? whole() : near(4)));
    pane.viewer.addHandler("viewport-change", () => { if (lead() === pane) follow(); });
    pane.viewer.addHandler("update-viewport", () => { split(); draw(); });
    pane.viewer.addHandler("animation-finish", sharpen);
    pane.viewer.addHandler("resize", () => requestAnimationFrame(settle));
  }
  await Promise.all(Object.values(panes).map(filled));
  table.dataset.laid = "1";
  await layOver();
  table.dataset.ready = "1";
  prefetch().catch(() => undefined);
};

const doing = {
  side: () => show("side"), over: () => show("over"), split: () => show("split"), difference: () => show("difference"),
  flick: () => { look.lifted = !look.lifted; mix(); },
  film: setFilm, points: setPoints, in: () => near(1.5), out: () => near(1 / 1.5), whole,
};
const keys = {
  s: doing.side, l: doing.over, c: doing.split, d: doing.difference, f: doing.flick, n: setFilm, v: setPoints,
  "+": doing.in, "=": doing.in, "-": doing.out, 0: whole, "[": () => step(-10), "]": () => step(10),
};
const arrows = { ArrowLeft: [-60, 0], ArrowRight: [60, 0], ArrowUp: [0, -60], ArrowDown: [0, 60] };

if (table) {
  tools.hidden = false;
  tools.addEventListener("click", (event) => {
    const button = event.target.closest("[data-do]");
    if (button && !button.disabled) doing[button.dataset.do]?.();
  });
  document.addEventListener("click", (event) => {
    const box = numbers(event.target.closest("[data-jump]")?.dataset.jump);
    if (box?.length === 4) jump(box);
  });
  amount.addEventListener("input", () => { look.lifted = false; mix(); });
  cut.addEventListener("pointerdown", (event) => { cut.setPointerCapture(event.pointerId); event.stopPropagation(); });
  cut.addEventListener("pointermove", (event) => {
    if (!(event.buttons & 1)) return;
    const frame = panes.a.view.getBoundingClientRect();
    amount.value = (100 * (event.clientX - frame.left)) / frame.width;
    mix();
  });
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input:not([type=range]), textarea, select")) return;
    const isTool = (name) => tools.querySelector(`[data-do="${name}"]`) && !tools.querySelector(`[data-do="${name}"]`).disabled;
    if (arrows[event.key] && event.target === table) {
      event.preventDefault();
      move(...arrows[event.key]);
      return;
    }
    const does = keys[event.key.toLowerCase()];
    if (does === doing.over || does === doing.split || does === doing.difference) {
      if (!isTool("over")) return;
    }
    if ((does === setFilm && !isTool("film")) || (does === setPoints && !isTool("points"))) return;
    does?.();
  });
  begin();
}
