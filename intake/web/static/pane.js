// One pane of the light table: a viewer, its picture as positive or film, soft until the scan itself can be had.
import { tileSource } from "./tiles.js";

const still = window.matchMedia("(prefers-reduced-motion: reduce)");
// The viewer adds a style of its own for touch screens unless it finds one. These pages allow none, so it finds an empty
// element of that name that is no style sheet.
const none = document.createElementNS("http://www.w3.org/1998/Math/MathML", "style");
none.setAttribute("data-openseadragon-mobile-css", "none");
document.head.append(none);
// It warns of tiles that come after the picture was changed, which is as it should be.
window.OpenSeadragon.console = { ...Object.fromEntries(["log", "debug", "info", "warn", "assert"].map((n) => [n, () => undefined])), error: (...said) => console.error(...said) };
const NEARER = 1.05; // from here on the working image may not be enough

export class Pane {
  constructor(view, tile) {
    this.view = view;
    this.tile = tile;
    this.sharp = new Set();
    this.film = false;
    this.viewer = window.OpenSeadragon({
      element: view, drawer: "canvas", preserveViewport: true, showNavigationControl: false, tabIndex: -1, autoResize: true,
      animationTime: still.matches ? 0 : 0.18, springStiffness: 9, blendTime: 0, immediateRender: false, imageLoaderLimit: 5,
      maxZoomPixelRatio: 8, minZoomImageRatio: 1, visibilityRatio: 1, constrainDuringPan: true, zoomPerScroll: 1.25,
      gestureSettingsMouse: { clickToZoom: false, dblClickToZoom: false, flickEnabled: false },
      gestureSettingsTouch: { flickEnabled: false }, crossOriginPolicy: false, ajaxWithCredentials: false,
    });
    this.viewer.innerTracker.keyHandler = null;
    this.viewer.innerTracker.keyDownHandler = null;
    this.viewer.canvas.removeAttribute("tabindex");
    this.viewer.addOnceHandler("tile-drawn", () => performance.mark("drawn"));
  }

  get port() { return this.viewer.viewport; }
  get tall() { return Number(this.view.dataset.height) / Number(this.view.dataset.width); }
  get picture() { return this.viewer.world.getItemAt(0); }
  get over() { return this.viewer.world.getItemCount() > 1 ? this.viewer.world.getItemAt(1) : null; }
  get isNear() { return this.port && this.port.getZoom(true) > this.port.getHomeZoom() * NEARER; }

  source(base) {
    const { width, height } = this.view.dataset;
    return tileSource(base, Number(width), Number(height), this.tile, this.sharp.has(base) ? "?sharp" : "");
  }

  base(data) { return this.film && data.film ? data.film : data.tiles; }

  // Lay a picture at its place in the pile, over what lies there; what lay there goes when the new one is drawn.
  lay(base, place, options = {}) {
    return new Promise((done) => {
      const before = this.viewer.world.getItemAt(place);
      const crop = before?.getCroppingPolygons?.() ?? null;
      this.viewer.addTiledImage({
        tileSource: this.source(base), index: place, replace: Boolean(before), opacity: before ? before.getOpacity() : 1,
        preload: true, ...options,
        success: ({ item }) => {
          if (!before && place === 0) this.port.goHome(true);
          if (crop) item.setCroppingPolygons(crop);
          done(item);
        },
      });
    });
  }

  // Zooming in asks for the scan itself; it is there in a few seconds, and the tiles are then asked for anew.
  async sharpen(base, say) {
    if (this.sharp.has(base)) return false;
    this.sharp.add(base);
    const answer = await fetch(`/sharp/${base.split("/").pop()}`);
    const said = answer.ok ? await answer.json() : { sharp: false, words: "" };
    if (said.words) say(said.words);
    return said.sharp;
  }
}
