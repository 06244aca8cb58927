/* "Where I stand now": fills latitude and longitude from the device. Both can always be typed instead. */

const PLACES = 6; // decimals of a degree: about a decimetre, finer than any phone knows

/** Write a position into the two boxes a button names by their prefix. */
function fill(button, position) {
  const box = (name) => document.getElementById(`id_${button.dataset.here}-${name}`);
  box("latitude").value = position.coords.latitude.toFixed(PLACES);
  box("longitude").value = position.coords.longitude.toFixed(PLACES);
  say(button, button.dataset.found.replace("{m}", Math.round(position.coords.accuracy)));
}

function say(button, words) {
  button.nextElementSibling.textContent = words;
}

function ask(event) {
  const button = event.currentTarget;
  say(button, button.dataset.asking);
  navigator.geolocation.getCurrentPosition(
    (position) => fill(button, position),
    () => say(button, button.dataset.failed),
    { enableHighAccuracy: true, timeout: 20000, maximumAge: 10000 },
  );
}

if ("geolocation" in navigator) {
  for (const button of document.querySelectorAll("[data-here]")) {
    button.hidden = false;
    button.addEventListener("click", ask);
  }
}
