import assert from "node:assert/strict";
import test from "node:test";

import { corner, cornersOf, geometryIn, polygonOf } from "../../deploy/static/js/ring.js";
import { gridLines, gridStep } from "../../deploy/static/js/ruling.js";

const ring = [[-7.1, 40.3], [-7.08, 40.3], [-7.08, 40.32]];
const polygon = { type: "Polygon", coordinates: [[...ring, ring[0]]] };

test("a corner is written longitude first, to a centimetre", () => {
  assert.deepEqual(corner(40.123456789, -7.987654321), [-7.9876543, 40.1234568]);
});

test("a boundary closes on its first corner, and needs three", () => {
  assert.deepEqual(polygonOf(ring), polygon);
  assert.equal(polygonOf(ring.slice(0, 2)), null);
});

test("pasted GeoJSON is read as geometry, feature or collection", () => {
  const feature = { type: "Feature", properties: {}, geometry: polygon };
  for (const given of [polygon, feature, { type: "FeatureCollection", features: [feature] }]) {
    assert.deepEqual(geometryIn(JSON.stringify(given)), polygon);
  }
});

test("what is no boundary is left alone, whatever it is", () => {
  for (const text of ["", "{", "null", "7", '{"type": "Point", "coordinates": [1, 2]}', '{"type": "FeatureCollection"}']) {
    assert.equal(geometryIn(text), null);
  }
});

test("a plain polygon can go on being edited, one with holes cannot lose them", () => {
  assert.deepEqual(cornersOf(polygon), ring);
  assert.deepEqual(cornersOf({ type: "Polygon", coordinates: [polygon.coordinates[0], polygon.coordinates[0]] }), []);
  assert.deepEqual(cornersOf({ type: "MultiPolygon", coordinates: [polygon.coordinates] }), []);
});

test("a grid has about four lines at every scale, on round values", () => {
  for (const across of [360, 40, 3, 0.4, 0.05, 0.004]) {
    const lines = gridLines(12.3456, 12.3456 + across, gridStep(across));
    assert.ok(lines.length >= 4 && lines.length <= 13, `${across}: ${lines.length}`);
  }
  assert.deepEqual(gridLines(0.05, 0.35, 0.1), [0.1, 0.2, 0.3]);
});
