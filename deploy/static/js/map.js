/* A map of our own shapes: no tiles unless the page names a tile server, and boundaries drawn by tapping.
 *
 * A map is <div data-map> (see templates/partials/map.html) with, all optional:
 *   data-source  id of a <script type="application/json"> holding GeoJSON, data-url  where to fetch it,
 *   data-edit    id of the textarea a boundary is drawn into, data-tiles  a tile address, data-credit  its credit,
 *   data-centre  "latitude,longitude" to start from when there is nothing to show.
 */
import * as L from "../vendor/leaflet/leaflet.esm.js";
import { drawBoundary } from "./boundary.js";
import { drawGrid } from "./grid.js";

const styleSheet = new URL("../vendor/leaflet/leaflet.css", import.meta.url).href;
let styleReady;

/** Leaflet's style sheet is fetched once, and before the first map so that nothing jumps. */
function loadStyle() {
  styleReady ??= new Promise((resolve) => {
    const link = document.createElement("link");
    link.rel = "stylesheet";
    link.href = styleSheet;
    link.onload = link.onerror = resolve;
    document.head.prepend(link);
  });
  return styleReady;
}

/** The shapes a page gave: from the page itself or from its address. */
async function readShapes({ source, url }) {
  if (source) return JSON.parse(document.getElementById(source)?.textContent || "null");
  if (!url) return null;
  const answer = await fetch(url, { headers: { Accept: "application/geo+json, application/json" } });
  return answer.ok ? answer.json() : null;
}

/** What a tap on a shape shows; written as text, so that a name can never become markup. */
function describe(feature) {
  const { name, note, url } = feature.properties ?? {};
  if (!name) return null;
  const box = document.createElement("div");
  const title = document.createElement(url ? "a" : "b");
  title.textContent = name;
  if (url && new URL(url, location.href).origin === location.origin) title.href = url;
  box.append(title);
  if (note) box.append(document.createElement("br"), note);
  return box;
}

/** Shapes are styled by kind in map.css (`shape-site`, `shape-block`, `shape-plot`); points are rings, not pins.
 *  Under a drawing they are background only, so that a tap on one is a tap on the map. */
function shapeLayer(shapes, { interactive }) {
  const kind = (feature) => `shape shape-${String(feature?.properties?.kind ?? "plain").replace(/\W/g, "")}`;
  return L.geoJSON(shapes, {
    style: (feature) => ({ className: kind(feature), weight: 2, interactive }),
    pointToLayer: (feature, place) => L.circleMarker(place, { radius: 7, className: kind(feature), interactive }),
    onEachFeature: (feature, layer) => {
      const text = interactive && describe(feature);
      if (text) layer.bindPopup(text);
    },
  });
}

/** Show everything drawn, else the given centre, else the whole world. */
function lookAt(map, layers, centre) {
  const bounds = layers.reduce((all, layer) => all.extend(layer.getBounds()), L.latLngBounds([]));
  if (bounds.isValid()) map.fitBounds(bounds.pad(0.1), { maxZoom: 17 });
  else if (centre) map.setView(centre.split(",").map(Number), 14);
  else map.setView([10, 0], 2);
}

function addTiles(map, { tiles, credit }) {
  if (tiles) L.tileLayer(tiles, { maxZoom: 19, attribution: credit ?? "" }).addTo(map);
}

/** Draw one map into its element; the element's words and tools come from the template. */
export async function drawMap(element) {
  if (element.dataset.mapDrawn) return;
  element.dataset.mapDrawn = "yes";
  await loadStyle();
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const map = L.map(element, { zoomControl: false, attributionControl: Boolean(element.dataset.tiles), zoomAnimation: !calm, fadeAnimation: !calm });
  map.attributionControl?.setPrefix(false);
  L.control.zoom({ position: "bottomright", zoomInTitle: element.dataset.zoomIn, zoomOutTitle: element.dataset.zoomOut }).addTo(map);
  L.control.scale({ imperial: element.dataset.units === "us", metric: element.dataset.units !== "us" }).addTo(map);
  addTiles(map, element.dataset);
  const shapes = await readShapes(element.dataset).catch(() => null);
  const textarea = document.getElementById(element.dataset.edit ?? "");
  const layers = shapes ? [shapeLayer(shapes, { interactive: !textarea }).addTo(map)] : [];
  if (textarea) layers.push(drawBoundary(map, textarea, element.parentElement));
  lookAt(map, layers, element.dataset.centre);
  if (!element.dataset.tiles) drawGrid(map);
}
