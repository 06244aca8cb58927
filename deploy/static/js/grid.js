/* Without a tile server a map is blank paper; a ruled grid of whole degrees and parts of them says where one is. */
import * as L from "../vendor/leaflet/leaflet.esm.js";

const STEPS = [30, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 0.0005];

/** The widest step that still puts about four lines across the view. */
export function gridStep(degreesAcross) {
  return STEPS.find((step) => degreesAcross / step >= 4) ?? STEPS.at(-1);
}

/** The multiples of a step between two values; counted in whole numbers so that errors do not add up. */
export function gridLines(from, to, step) {
  const lines = [];
  for (let n = Math.ceil(from / step); n * step <= to; n += 1) lines.push(Number((n * step).toFixed(6)));
  return lines;
}

/** Rule the map, and rule it again whenever the view has moved. */
export function drawGrid(map) {
  const layer = L.layerGroup().addTo(map);
  const rule = () => {
    layer.clearLayers();
    const view = map.getBounds();
    const [south, north] = [Math.max(view.getSouth(), -85), Math.min(view.getNorth(), 85)];
    const [west, east] = [view.getWest(), view.getEast()];
    const step = gridStep(east - west);
    for (const lon of gridLines(west, east, step)) layer.addLayer(labelled([[south, lon], [north, lon]], lon, [south, lon]));
    for (const lat of gridLines(south, north, step)) layer.addLayer(labelled([[lat, west], [lat, east]], lat, [lat, west]));
  };
  map.on("moveend", rule);
  rule();
}

/** A line whose label sits at its end, inside the frame. */
function labelled(points, value, at) {
  const group = L.layerGroup([L.polyline(points, { className: "grid-line", interactive: false, weight: 1 })]);
  const horizontal = points[0][0] === points[1][0];
  const label = L.divIcon({ className: "grid-label", html: `${value}°`, iconSize: [60, 16], iconAnchor: horizontal ? [-4, 8] : [30, 20] });
  return group.addLayer(L.marker(at, { icon: label, interactive: false, keyboard: false }));
}
