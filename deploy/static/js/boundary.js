/* Drawing a boundary by tapping its corners; the textarea stays the truth and can be typed or pasted into. */
import * as L from "../vendor/leaflet/leaflet.esm.js";
import { corner, cornersOf, geometryIn, polygonOf } from "./ring.js";

class Boundary {
  constructor(map, textarea, frame) {
    this.map = map;
    this.textarea = textarea;
    this.status = frame.querySelector("[data-map-status]");
    this.layer = L.featureGroup().addTo(map);
    this.read();
  }

  /** Take over what is written in the textarea. */
  read() {
    this.geometry = geometryIn(this.textarea.value);
    this.corners = cornersOf(this.geometry);
    this.closed = Boolean(this.geometry);
    this.draw();
  }

  /** Add a corner; a closed boundary takes none, so that a stray tap does no harm. */
  add(latitude, longitude) {
    if (this.closed) return;
    this.corners.push(corner(latitude, longitude));
    this.draw();
  }

  /** Open a closed boundary again, or take the last corner back. */
  undo() {
    if (!this.closed && !this.corners.length) return; // corners typed in words are not the map's to take back
    if (this.closed && this.corners.length) this.closed = false;
    else this.corners.pop();
    this.write(null);
  }

  /** Saving closes what was tapped and left open, so that no corner is lost. */
  settle() {
    if (!this.closed && !this.textarea.value.trim()) this.close();
  }

  close() {
    const polygon = polygonOf(this.corners);
    if (!polygon) return;
    this.closed = true;
    this.write(polygon);
  }

  clear() {
    this.corners = [];
    this.closed = false;
    this.write(null);
  }

  write(geometry) {
    this.geometry = geometry;
    this.textarea.value = geometry ? JSON.stringify(geometry) : "";
    this.draw();
  }

  draw() {
    this.layer.clearLayers();
    if (this.closed && this.geometry) this.layer.addLayer(L.geoJSON(this.geometry, { style: { className: "shape shape-drawn", weight: 3 } }));
    const places = this.corners.map(([longitude, latitude]) => [latitude, longitude]);
    if (!this.closed && places.length) this.layer.addLayer(L.polyline(places, { className: "shape-drawing", weight: 3 }));
    for (const place of places) this.layer.addLayer(L.circleMarker(place, { radius: 5, className: "shape-corner", interactive: false }));
    this.tell();
  }

  /** Say how far the drawing is, in the words the template gave. */
  tell() {
    if (!this.status) return;
    const { started, enough, closed, empty } = this.status.dataset;
    const words = this.closed ? closed : !this.corners.length ? empty : this.corners.length < 3 ? started : enough;
    this.status.textContent = words.replace("#", this.corners.length);
  }
}

/** A person's own place as a corner: walk the edge and tap at each turn. */
function addOwnPlace(boundary, button) {
  navigator.geolocation?.getCurrentPosition(
    ({ coords }) => boundary.add(coords.latitude, coords.longitude),
    () => { boundary.status.textContent = button.dataset.refused; },
    { enableHighAccuracy: true, timeout: 20000 },
  );
}

/** Let a person draw into `textarea`; the tools are buttons in `frame`, so nothing needs dragging. */
export function drawBoundary(map, textarea, frame) {
  const boundary = new Boundary(map, textarea, frame);
  const tool = (name) => frame.querySelector(`[data-map-${name}]`);
  map.doubleClickZoom.disable();
  map.on("click", ({ latlng }) => boundary.add(latlng.lat, latlng.lng));
  textarea.addEventListener("change", () => boundary.read());
  textarea.form?.addEventListener("submit", () => boundary.settle());
  tool("undo")?.addEventListener("click", () => boundary.undo());
  tool("close")?.addEventListener("click", () => boundary.close());
  tool("clear")?.addEventListener("click", () => boundary.clear());
  tool("here")?.addEventListener("click", (event) => addOwnPlace(boundary, event.currentTarget));
  frame.querySelector("[data-map-tools]")?.removeAttribute("hidden");
  return boundary.layer;
}
