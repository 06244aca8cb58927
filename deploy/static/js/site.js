/* What every page needs of script; all pages work without it. */

/** Give htmx requests the CSRF token the page was drawn with. */
function sendCsrfToken(event) {
  const token = document.querySelector('meta[name="csrf-token"]');
  if (token && event.detail.verb !== "get") event.detail.headers["X-CSRFToken"] = token.content;
}

/** After a refused form, bring the person to the list of what is wrong. */
function focusProblems(root) {
  root.querySelector(".error-summary")?.focus();
}

/** Maps are heavy, so their module is loaded only where a page has one. */
async function drawMaps(root) {
  const places = root.querySelectorAll("[data-map]:not([data-map-drawn])");
  if (!places.length) return;
  const { drawMap } = await import("./map.js");
  places.forEach(drawMap);
}

document.addEventListener("htmx:configRequest", sendCsrfToken);
document.addEventListener("htmx:afterSwap", (event) => focusProblems(event.target));
document.addEventListener("htmx:load", (event) => drawMaps(event.target));
focusProblems(document);
drawMaps(document);
