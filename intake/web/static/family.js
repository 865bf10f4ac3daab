// The page of a family: its light table by mouse and keys. What comes next is fetched while a person looks.
import { fetchAhead } from "./ahead.js";
import { numbers } from "./geometry.js";
import { onLeaf } from "./leaf.js";
import { LightTable } from "./table.js";

const ARROWS = { ArrowLeft: [-60, 0], ArrowRight: [60, 0], ArrowUp: [0, -60], ArrowDown: [0, 60] };

const handle = (lit, signal) => {
  const { table, tools, amount, cut } = lit;
  const doing = {
    side: () => lit.show("side"), over: () => lit.show("over"), split: () => lit.show("split"), difference: () => lit.show("difference"),
    flick: () => lit.lift(), film: () => lit.setFilm(), points: () => lit.setPoints(),
    in: () => lit.near(1.5), out: () => lit.near(1 / 1.5), whole: () => lit.whole(),
  };
  const keys = {
    s: "side", l: "over", c: "split", d: "difference", f: "flick", n: "film", v: "points", "+": "in", "=": "in", "-": "out", 0: "whole",
  };
  const steps = { "[": -10, "]": 10 };
  const listen = (where, name, does) => where.addEventListener(name, does, { signal });

  tools.hidden = false;
  listen(tools, "click", (event) => {
    const button = event.target.closest("[data-do]");
    if (button && !button.disabled) doing[button.dataset.do]?.();
  });
  listen(document, "click", (event) => {
    const box = numbers(event.target.closest("[data-jump]")?.dataset.jump);
    if (box?.length === 4) lit.jump(box);
  });
  listen(amount, "input", () => lit.put(amount.value));
  listen(cut, "pointerdown", (event) => { cut.setPointerCapture(event.pointerId); event.stopPropagation(); });
  listen(cut, "pointermove", (event) => {
    if (!(event.buttons & 1)) return;
    const frame = lit.panes.a.view.getBoundingClientRect();
    lit.put((100 * (event.clientX - frame.left)) / frame.width);
  });
  listen(document, "keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input:not([type=range]), textarea, select")) return;
    if (ARROWS[event.key] && event.target === table) {
      event.preventDefault();
      lit.move(...ARROWS[event.key]);
      return;
    }
    const key = event.key.toLowerCase();
    if (steps[key]) lit.put(Number(amount.value) + steps[key]);
    const button = keys[key] && tools.querySelector(`[data-do="${keys[key]}"]`);
    if (button && !button.disabled) doing[keys[key]]();
  });
};

onLeaf((signal, ahead) => {
  const table = document.getElementById("table");
  if (!table) return;
  const lit = new LightTable(table);
  signal.addEventListener("abort", () => lit.end());
  handle(lit, signal);
  lit.begin().then(() => fetchAhead(lit.panes.a.view.getBoundingClientRect(), ahead)).catch(() => undefined);
});
