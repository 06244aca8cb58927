/* Without a tile server a map is blank paper; a ruled grid of whole degrees and parts of them says where one is. */
import * as L from "../vendor/leaflet/leaflet.esm.js";
import { gridLines, gridStep } from "./ruling.js";

/** Under the shapes, over the paper. */
function paneFor(map) {
  const pane = map.getPane("grid") ?? map.createPane("grid");
  pane.style.zIndex = 300;
  return "grid";
}

/** Rule the map, and rule it again whenever the view has moved. */
export function drawGrid(map) {
  const layer = L.layerGroup().addTo(map);
  const pane = paneFor(map);
  const rule = () => {
    layer.clearLayers();
    const view = map.getBounds();
    const [south, north] = [Math.max(view.getSouth(), -85), Math.min(view.getNorth(), 85)];
    const [west, east] = [view.getWest(), view.getEast()];
    const step = gridStep(east - west);
    for (const lon of gridLines(west, east, step)) layer.addLayer(labelled([[south, lon], [north, lon]], lon, [north, lon], pane));
    for (const lat of gridLines(south, north, step)) layer.addLayer(labelled([[lat, west], [lat, east]], lat, [lat, west], pane));
  };
  map.on("moveend", rule);
  rule();
}

/** A line whose label sits at its end, inside the frame. */
function labelled(points, value, at, pane) {
  const group = L.layerGroup([L.polyline(points, { className: "grid-line", interactive: false, weight: 1, pane })]);
  const horizontal = points[0][0] === points[1][0];
  const label = L.divIcon({ className: "grid-label", html: `${value}°`, iconSize: [60, 16], iconAnchor: horizontal ? [-4, 8] : [-4, -4] });
  return group.addLayer(L.marker(at, { icon: label, interactive: false, keyboard: false, pane }));
}
