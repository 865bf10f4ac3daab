// The light table: two pictures side by side with one zoom and pan, or the right one laid over the left one.
const table = document.getElementById("table");
if (table) {
  const tools = document.getElementById("tools");
  const blend = document.getElementById("blend");
  const amount = document.getElementById("amount");
  const panes = Object.fromEntries([...table.querySelectorAll(".pane")].map((pane) => [pane.dataset.pane, pane]));
  const shares = table.dataset.shares ? table.dataset.shares.split(",").map(Number) : null;
  const MOST = 24;
  // The middle of the view as shares of the left picture, and how many times nearer than the whole.
  const look = { x: 0.5, y: 0.5, zoom: 1 };
  let mode = "side";
  let lifted = false;
  let film = false;

  const through = (m, x, y) => {
    const w = m[6] * x + m[7] * y + m[8];
    return [(m[0] * x + m[1] * y + m[2]) / w, (m[3] * x + m[4] * y + m[5]) / w];
  };

  // The size at which a picture fits its view.
  const fit = (view, image) => {
    const scale = Math.min(view.clientWidth / image.naturalWidth, view.clientHeight / image.naturalHeight);
    return [image.naturalWidth * scale, image.naturalHeight * scale];
  };

  const lay = (pane, x, y) => {
    const view = pane.querySelector(".view");
    const first = view.querySelector("img");
    if (!first.naturalWidth || !view.clientWidth) return;
    const [width, height] = fit(view, first);
    const place = (share, size, room) => {
      const moved = room / 2 - share * size * look.zoom;
      const spare = room - size * look.zoom;
      return spare > 0 ? spare / 2 : Math.min(0, Math.max(spare, moved));
    };
    const left = place(x, width, view.clientWidth);
    const top = place(y, height, view.clientHeight);
    for (const image of view.querySelectorAll("img")) {
      image.style.width = `${width}px`;
      image.style.height = `${height}px`;
      image.style.transform = `translate(${left}px, ${top}px) scale(${look.zoom})`;
    }
  };

  const draw = () => {
    if (mode === "over") {
      lay(panes.over, look.x, look.y);
      return;
    }
    lay(panes.a, look.x, look.y);
    lay(panes.b, ...(shares ? through(shares, look.x, look.y) : [look.x, look.y]));
  };

  const press = (name, on) => tools.querySelector(`[data-do="${name}"]`)?.setAttribute("aria-pressed", String(on));

  const show = (wanted) => {
    if (wanted === "over" && !panes.over) return;
    mode = wanted;
    panes.a.hidden = panes.b.hidden = mode === "over";
    if (panes.over) panes.over.hidden = mode !== "over";
    blend.hidden = mode !== "over";
    press("side", mode === "side");
    press("over", mode === "over");
    if (mode === "over") fetchTop();
    mix();
    draw();
    table.scrollIntoView({ block: "nearest" });
  };

  // The right one is asked for once the page stands, so that laying it over takes no wait. Only where it has something
  // does it cover the left one.
  const fetchTop = () => {
    const top = panes.over?.querySelector(".top");
    if (!top || top.getAttribute("src")) return;
    const corners = top.dataset.outline.split(",").map((corner) => corner.split(" ").map((share) => `${share * 100}%`).join(" "));
    top.style.clipPath = `polygon(${corners.join(", ")})`;
    top.src = film && top.dataset.film ? top.dataset.film : top.dataset.src;
  };

  const mix = () => {
    const top = panes.over?.querySelector(".top");
    if (top) top.style.opacity = lifted ? 0 : amount.value / 100;
    press("flick", lifted);
  };

  const setFilm = () => {
    film = !film;
    press("film", film);
    for (const image of table.querySelectorAll("img[data-film]")) {
      image.dataset.src ||= image.getAttribute("src");
      if (image.getAttribute("src")) image.src = film ? image.dataset.film : image.dataset.src;
    }
    for (const said of table.querySelectorAll("[data-says]")) {
      said.textContent = film ? "the film itself" : said.dataset.says;
    }
  };

  const bounded = (value) => Math.min(1, Math.max(0, value));

  const near = (factor, view = null, atX = 0, atY = 0) => {
    const before = look.zoom;
    look.zoom = Math.min(MOST, Math.max(1, look.zoom * factor));
    if (view) {
      // What lies under the pointer stays there.
      const [width, height] = fit(view, view.querySelector("img"));
      const grown = 1 / before - 1 / look.zoom;
      look.x = bounded(look.x + ((atX - view.clientWidth / 2) * grown) / width);
      look.y = bounded(look.y + ((atY - view.clientHeight / 2) * grown) / height);
    }
    draw();
  };

  const move = (dx, dy, view) => {
    const [width, height] = fit(view, view.querySelector("img"));
    look.x = bounded(look.x - dx / (width * look.zoom));
    look.y = bounded(look.y - dy / (height * look.zoom));
    draw();
  };

  const whole = () => {
    Object.assign(look, { x: 0.5, y: 0.5, zoom: 1 });
    draw();
  };

  const leading = () => (mode === "over" ? panes.over : panes.a).querySelector(".view");

  const doing = {
    side: () => show("side"),
    over: () => show("over"),
    flick: () => { lifted = !lifted; mix(); },
    film: setFilm,
    in: () => near(1.5),
    out: () => near(1 / 1.5),
    whole,
  };

  tools.hidden = false;
  tools.addEventListener("click", (event) => doing[event.target.closest("[data-do]")?.dataset.do]?.());
  amount.addEventListener("input", () => { lifted = false; mix(); });

  for (const view of table.querySelectorAll(".view")) {
    view.addEventListener("wheel", (event) => {
      event.preventDefault();
      const frame = view.getBoundingClientRect();
      near(event.deltaY < 0 ? 1.2 : 1 / 1.2, view, event.clientX - frame.left, event.clientY - frame.top);
    }, { passive: false });
    view.addEventListener("pointerdown", (event) => {
      view.setPointerCapture(event.pointerId);
      table.focus({ preventScroll: true });
    });
    view.addEventListener("pointermove", (event) => {
      if (event.buttons & 1) move(event.movementX, event.movementY, view);
    });
    view.addEventListener("dblclick", () => (look.zoom > 1 ? whole() : near(4)));
    for (const image of view.querySelectorAll("img")) image.addEventListener("load", draw);
  }

  const keys = {
    s: doing.side, l: doing.over, f: doing.flick, n: setFilm, "+": doing.in, "=": doing.in, "-": doing.out, 0: whole,
    "[": () => { amount.value = Number(amount.value) - 10; lifted = false; mix(); },
    "]": () => { amount.value = Number(amount.value) + 10; lifted = false; mix(); },
  };
  const arrows = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] };
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input:not([type=range]), textarea, select")) return;
    if (arrows[event.key] && event.target === table && look.zoom > 1) {
      event.preventDefault();
      move(...arrows[event.key], leading());
      return;
    }
    keys[event.key.toLowerCase()]?.();
  });
  new ResizeObserver(draw).observe(table);
  if (document.readyState === "complete") fetchTop();
  else window.addEventListener("load", fetchTop);
  table.classList.add("ready");
  draw();
}
