/* Measures a screen as gloves and sunlight do. Each function returns what is wrong; an empty list is right. */

const shown = (selector) => [...document.querySelectorAll(selector)].filter((one) => one.offsetParent);

/** Interactive boxes under 48 px; a tick box, a choice and a picture count with their label. */
function smallTargets() {
  return shown('a, button, input, select, textarea, summary')
    .map((one) => (['checkbox', 'radio', 'file'].includes(one.type) ? one.closest('label') : one))
    .map((one) => [one.textContent || one.id, one.getBoundingClientRect()])
    .filter(([, box]) => box.height < 47.5 || box.width < 47.5)
    .map(([name, box]) => `${name} ${box.width}x${box.height}`);
}

/** The + and − keys under 64 px. */
function smallKeys() {
  return shown('.key').map((one) => one.getBoundingClientRect()).filter((box) => box.width < 64 || box.height < 64);
}

function sidewaysScroll() {
  const over = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  return over > 0 ? [over] : [];
}

function unlabelled() {
  return shown('input, select, textarea').filter((one) => !one.labels.length || !one.labels[0].offsetParent).map((one) => one.id);
}

const channels = (text) => text.match(/[\d.]+/g).map(Number);

/** Relative luminance, WCAG 2.2. */
function luminance([red, green, blue]) {
  const linear = [red, green, blue].map((channel) => channel / 255)
    .map((channel) => (channel <= 0.04045 ? channel / 12.92 : ((channel + 0.055) / 1.055) ** 2.4));
  return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
}

function background(element) {
  for (let one = element; one; one = one.parentElement) {
    const colour = channels(getComputedStyle(one).backgroundColor);
    if (colour.length < 4 || colour[3] > 0) return colour;
  }
  return [255, 255, 255];
}

/** Text under 7:1 against what lies behind it. */
function paleText() {
  const texts = shown('body *').filter((one) => [...one.childNodes].some((node) => node.nodeType === Node.TEXT_NODE && node.data.trim()));
  return texts.map((one) => {
    const [lighter, darker] = [luminance(channels(getComputedStyle(one).color)), luminance(background(one))].sort((a, b) => b - a);
    return [one.textContent, (lighter + 0.05) / (darker + 0.05)];
  }).filter(([, ratio]) => ratio < 7).map(([text, ratio]) => `${text} ${ratio.toFixed(1)}`);
}
