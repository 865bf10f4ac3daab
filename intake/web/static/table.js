// The light table: two pictures side by side with one zoom and pan, or the right one laid over the left one.
import { back, numbers, spread, through } from "./geometry.js";
import { placeOf, pointsOf } from "./marked.js";
import { Pane } from "./pane.js";

export class LightTable {
  constructor(table) {
    this.table = table;
    this.tools = document.getElementById("tools");
    this.blend = document.getElementById("blend");
    this.amount = document.getElementById("amount");
    this.cut = document.getElementById("cut");
    this.drawn = document.getElementById("drawn");
    this.said = document.getElementById("said");
    this.shares = numbers(table.dataset.shares);
    Object.assign(this, { mode: "side", lifted: false, film: false, points: false, leader: null, marked: null, fits: false, top: "" });
    this.panes = Object.fromEntries(["a", "b"].map((name) => [name, new Pane(table.querySelector(`[data-pane=${name}] .view`), Number(table.dataset.tile))]));
    for (const pane of this.both) {
      const leads = () => { this.leader = pane; };
      pane.view.addEventListener("pointerenter", leads);
      pane.view.addEventListener("pointerdown", () => table.focus({ preventScroll: true }));
      pane.view.addEventListener("wheel", leads, { capture: true, passive: true });
      pane.view.addEventListener("dblclick", () => (pane.isNear ? this.whole() : this.near(4)));
      pane.viewer.addHandler("viewport-change", () => { if (this.lead === pane) this.follow(); });
      pane.viewer.addHandler("update-viewport", () => { this.split(); this.draw(); });
      pane.viewer.addHandler("animation-finish", () => this.sharpen());
      pane.viewer.addHandler("resize", () => requestAnimationFrame(() => this.settle()));
    }
  }

  get both() { return Object.values(this.panes); }
  get lead() { return this.leader ?? this.panes.a; }
  // What lies on top; for the difference with the tones of what lies below, so that exposure does not count as drawing.
  get overBase() {
    const { over, overLike, overFilm } = this.table.dataset;
    return this.panes.a.base({ tiles: this.mode === "difference" ? overLike : over, film: overFilm });
  }

  async begin() {
    await Promise.all(this.both.map((pane) => this.fill(pane)));
    this.table.dataset.laid = "1";
    await this.layOver();
    this.table.dataset.ready = "1";
  }

  end() {
    for (const pane of this.both) pane.viewer.destroy();
  }

  press(name, on) { this.tools.querySelector(`[data-do="${name}"]`)?.setAttribute("aria-pressed", String(on)); }

  // Where a share of a pane's picture lies on the table, in pixels.
  onTable(pane, x, y) {
    const place = pane.port.viewportToViewerElementCoordinates(new window.OpenSeadragon.Point(x, y * pane.tall));
    const frame = pane.view.getBoundingClientRect();
    const whole = this.table.getBoundingClientRect();
    return [place.x + frame.left - whole.left, place.y + frame.top - whole.top];
  }

  // The pane that is not led shows what the other shows, as near.
  follow() {
    const { a, b } = this.panes;
    if (this.mode !== "side" || !a.picture || !b.picture) return;
    const leads = this.lead;
    const goes = leads === a ? b : a;
    const middle = leads.port.getCenter(true);
    const zoom = leads.port.getZoom(true);
    let [x, y] = [middle.x, middle.y / leads.tall];
    let times = goes.port.getHomeZoom() / leads.port.getHomeZoom();
    if (this.shares) {
      const onLeft = leads === a ? [x, y] : through(back(this.shares), x, y);
      const grown = spread(this.shares, ...onLeft, b.tall / a.tall);
      [x, y] = leads === a ? through(this.shares, x, y) : onLeft;
      times = leads === a ? 1 / grown : grown;
    }
    if (zoom <= leads.port.getHomeZoom() * 1.001) {
      goes.port.goHome(true);
      return;
    }
    goes.port.zoomTo(zoom * times, null, true);
    goes.port.panTo(new window.OpenSeadragon.Point(x, y * goes.tall), true);
  }

  draw() {
    for (const pane of this.both) {
      const { x, y } = pane.port.getCenter(true);
      pane.view.dataset.seen = [x, y / pane.tall, pane.port.getZoom(true) / pane.port.getHomeZoom()].map((v) => v.toFixed(3)).join(" ");
    }
    const given = [this.panes, this.onTable.bind(this), this.shares, this.mode === "side"];
    const shapes = this.points ? pointsOf(numbers(this.table.dataset.points) ?? [], ...given) : [];
    if (this.marked) shapes.push(...placeOf(this.marked, ...given));
    this.drawn.replaceChildren(...shapes);
    const whole = this.table.getBoundingClientRect();
    const low = this.panes.a.view.getBoundingClientRect().bottom;
    this.drawn.style.clipPath = `inset(10px 10px ${Math.max(0, whole.bottom - low)}px 10px)`;
  }

  // What is cut away of the one on top: all that lies to the left of the line.
  split() {
    const { a } = this.panes;
    const isCut = this.mode === "split";
    this.cut.hidden = !isCut || this.lifted;
    if (!a.over) return;
    if (!isCut) {
      a.over.setClip(null);
      return;
    }
    const width = Number(a.view.dataset.width);
    const height = Number(a.view.dataset.height);
    const at = (a.view.clientWidth * this.amount.value) / 100;
    this.cut.style.left = `${at}px`;
    const place = a.port.viewerElementToViewportCoordinates(new window.OpenSeadragon.Point(at, 0));
    const x = Math.min(width - 1, Math.max(0, place.x * width));
    a.over.setClip(new window.OpenSeadragon.Rect(x, 0, width - x, height));
  }

  mix() {
    const { over } = this.panes.a;
    const shown = this.mode === "side" || this.lifted ? 0 : this.mode === "over" ? this.amount.value / 100 : 1;
    const differs = this.mode === "difference" && !this.lifted;
    if (over) {
      over.setCompositeOperation(differs ? "difference" : "source-over");
      over.setOpacity(shown);
    }
    this.table.dataset.shown = String(shown);
    this.table.classList.toggle("differing", differs);
    this.press("flick", this.lifted);
    this.split();
  }

  show(wanted) {
    if (wanted !== "side" && !this.shares) return;
    const { a } = this.panes;
    const isWhole = !a.isNear;
    this.mode = wanted;
    this.lifted = false;
    if (a.over && this.top !== this.overBase) this.layOver().then(() => this.sharpen(), () => undefined);
    const over = wanted !== "side";
    if (over) this.leader = a;
    this.table.querySelector("[data-pane=b]").hidden = over;
    for (const name of ["side", "over", "split", "difference"]) this.press(name, name === wanted);
    this.blend.hidden = !over;
    this.amount.disabled = wanted === "difference";
    this.amount.setAttribute("aria-label", wanted === "split" ? "Where the line lies" : "How much of the right one shows");
    const caption = this.table.querySelector("[data-over]");
    if (caption) caption.hidden = !over;
    requestAnimationFrame(() => {
      this.fits = isWhole;
      a.viewer.forceResize();
      this.mix();
      this.follow();
      this.draw();
    });
    this.table.scrollIntoView({ block: "nearest" });
  }

  async layOver() {
    if (!this.table.dataset.over) return;
    const { a } = this.panes;
    this.top = this.overBase;
    const item = await a.lay(this.top, 1, { opacity: 0 });
    const { width, height } = a.view.dataset;
    const corners = this.table.dataset.outline?.split(",").map((corner) => corner.split(" ").map(Number)) ?? [];
    if (corners.length) item.setCroppingPolygons([corners.map(([x, y]) => ({ x: x * Number(width), y: y * Number(height) }))]);
    this.mix();
  }

  fill(pane) { return pane.lay(pane.base(pane.view.dataset), 0); }

  sharpen() {
    const say = (words) => { this.said.textContent = words; };
    for (const pane of this.both.filter((p) => p.isNear)) {
      const wanted = [[pane.base(pane.view.dataset), () => this.fill(pane)]];
      if (pane === this.panes.a && this.table.dataset.over) wanted.push([this.overBase, () => this.layOver()]);
      for (const [base, again] of wanted) pane.sharpen(base, say).then((is) => { if (is && pane.port) again(); }, () => undefined);
    }
  }

  async setFilm() {
    this.film = !this.film;
    this.press("film", this.film);
    for (const pane of this.both) pane.film = this.film;
    for (const words of this.table.querySelectorAll("[data-says]")) words.textContent = this.film ? "the film itself" : words.dataset.says;
    const again = this.both.filter((p) => p.view.dataset.film).map((p) => this.fill(p));
    await Promise.all([...again, this.panes.a.over ? this.layOver() : null]);
    this.sharpen();
  }

  setPoints() {
    this.points = !this.points;
    this.press("points", this.points);
    this.draw();
  }

  near(factor) {
    this.fits = false;
    this.lead.port.zoomBy(factor).applyConstraints();
  }

  whole() {
    this.marked = null;
    this.lead.port.goHome();
  }

  move(x, y) {
    const { port } = this.lead;
    port.panBy(port.deltaPointsFromPixels(new window.OpenSeadragon.Point(x, y))).applyConstraints();
  }

  // Go to a place of the left picture: left, top, width and height as shares of it, upright.
  jump(box) {
    const [left, top, width, height] = box;
    const room = 0.5 * Math.max(width, height, 0.02);
    const { tall, port } = this.panes.a;
    this.leader = this.panes.a;
    this.marked = box;
    this.fits = false;
    port.fitBounds(new window.OpenSeadragon.Rect(left - room, (top - room) * tall, width + 2 * room, (height + 2 * room) * tall));
    this.table.scrollIntoView({ block: "nearest" });
    this.draw();
  }

  lift() {
    this.lifted = !this.lifted;
    this.mix();
  }

  // More or less of the one on top, or the line further over.
  put(amount) {
    this.amount.value = amount;
    this.lifted = false;
    this.mix();
  }

  // After the panes have changed their size: what was seen whole is seen whole again.
  settle() {
    if (!this.panes.a.port) return;
    if (this.fits) this.lead.port.goHome(true);
    this.fits = false;
    this.follow();
    this.split();
    this.draw();
  }
}
