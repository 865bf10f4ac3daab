// One piece on the light table: outline and folds drawn over it, nearer and further, the film itself.
import { Pane } from "./pane.js";

const table = document.getElementById("table");
const drawn = document.getElementById("drawn");
const tools = document.getElementById("tools");
const said = document.getElementById("said");

const begin = async () => {
  const view = table.querySelector(".view");
  const pane = new Pane(view, Number(table.dataset.tile));
  const shapes = table.dataset.drawn.split(";").filter(Boolean).map((text) => {
    const [kind, ...numbers] = text.split(" ");
    return { kind, corners: numbers.map(Number) };
  });
  let lines = true;

  const place = (x, y) => {
    const at = pane.port.viewportToViewerElementCoordinates(new window.OpenSeadragon.Point(x, y * pane.tall));
    const frame = view.getBoundingClientRect();
    const whole = table.getBoundingClientRect();
    return `${at.x + frame.left - whole.left},${at.y + frame.top - whole.top}`;
  };

  const draw = () => {
    const made = lines ? shapes.map(({ kind, corners }) => {
      const points = [];
      for (let n = 0; n + 1 < corners.length; n += 2) points.push(place(corners[n], corners[n + 1]));
      const shape = document.createElementNS("http://www.w3.org/2000/svg", corners.length > 4 ? "polygon" : "polyline");
      shape.setAttribute("points", points.join(" "));
      shape.setAttribute("class", kind);
      return shape;
    }) : [];
    drawn.replaceChildren(...made);
  };

  const base = () => pane.base(view.dataset);
  const sharpen = async () => {
    if (!pane.isNear) return;
    const wanted = base();
    if (await pane.sharpen(wanted, (words) => { said.textContent = words; })) await pane.lay(wanted, 0);
  };
  const press = (name, on) => tools.querySelector(`[data-do="${name}"]`)?.setAttribute("aria-pressed", String(on));
  const doing = {
    in: () => pane.port.zoomBy(1.5).applyConstraints(),
    out: () => pane.port.zoomBy(1 / 1.5).applyConstraints(),
    whole: () => pane.port.goHome(),
    lines: () => { lines = !lines; press("lines", lines); draw(); },
    film: async () => {
      pane.film = !pane.film;
      press("film", pane.film);
      for (const words of table.querySelectorAll("[data-says]")) words.textContent = pane.film ? "the film itself" : words.dataset.says;
      await pane.lay(base(), 0);
      sharpen();
    },
  };
  const keys = { "+": "in", "=": "in", "-": "out", 0: "whole", v: "lines", n: "film" };
  const arrows = { ArrowLeft: [-60, 0], ArrowRight: [60, 0], ArrowUp: [0, -60], ArrowDown: [0, 60] };

  tools.hidden = false;
  tools.addEventListener("click", (event) => doing[event.target.closest("[data-do]")?.dataset.do]?.());
  view.addEventListener("dblclick", () => (pane.isNear ? doing.whole() : pane.port.zoomBy(4).applyConstraints()));
  view.addEventListener("pointerdown", () => table.focus({ preventScroll: true }));
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, textarea, select")) return;
    if (arrows[event.key] && event.target === table) {
      event.preventDefault();
      const port = pane.port;
      port.panBy(port.deltaPointsFromPixels(new window.OpenSeadragon.Point(...arrows[event.key]))).applyConstraints();
      return;
    }
    const name = keys[event.key.toLowerCase()];
    if (name && tools.querySelector(`[data-do="${name}"]`)) doing[name]();
  });
  document.addEventListener("click", (event) => {
    const box = event.target.closest("[data-jump]")?.dataset.jump.split(",").map(Number);
    if (box?.length !== 4) return;
    const [left, top, wide, high] = box;
    const room = 0.5 * Math.max(wide, high, 0.02);
    const goal = [left - room, (top - room) * pane.tall, wide + 2 * room, (high + 2 * room) * pane.tall];
    pane.port.fitBounds(new window.OpenSeadragon.Rect(...goal));
    table.scrollIntoView({ block: "nearest" });
  });
  pane.viewer.addHandler("update-viewport", draw);
  pane.viewer.addHandler("animation-finish", () => sharpen().catch(() => undefined));
  await pane.lay(base(), 0);
  table.dataset.ready = "1";
};

if (table) begin();
