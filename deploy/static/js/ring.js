/* The corners of one boundary being drawn, apart from any map so that they can be tested alone. */

/** GeoJSON rounds to seven decimals of a degree: about one centimetre. */
const tidy = (degrees) => Number(degrees.toFixed(7));

/** A corner as GeoJSON orders it: longitude first. */
export function corner(latitude, longitude) {
  return [tidy(longitude), tidy(latitude)];
}

/** The polygon a list of corners makes; null until there are three of them. */
export function polygonOf(corners) {
  if (corners.length < 3) return null;
  return { type: "Polygon", coordinates: [[...corners, corners[0]]] };
}

/** The geometry inside pasted GeoJSON: a bare geometry, a feature, or the first of a collection. */
export function geometryIn(text) {
  let found;
  try {
    found = JSON.parse(text);
  } catch {
    return null;
  }
  if (found?.type === "FeatureCollection") found = found.features?.[0];
  if (found?.type === "Feature") found = found.geometry;
  return found?.type === "Polygon" || found?.type === "MultiPolygon" ? found : null;
}

/** Corners that can go on being edited: those of a polygon of one plain ring, else none. */
export function cornersOf(geometry) {
  const ring = geometry?.type === "Polygon" && geometry.coordinates.length === 1 ? geometry.coordinates[0] : [];
  return Array.isArray(ring) ? ring.slice(0, -1).map(([longitude, latitude]) => [longitude, latitude]) : [];
}
