/** Builds elements. Text only ever becomes text, and no style attribute is ever set. */

/** Make an element: `on…` keys listen, true/false keys switch an attribute, the rest are attributes. */
export function h(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, '');
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

/** A button that cannot be pressed twice while its work runs. */
export function button(label, work, properties = {}) {
  const element = h('button', { type: 'button', ...properties, onclick: async () => {
    if (element.getAttribute('aria-disabled') === 'true') return;
    element.setAttribute('aria-disabled', 'true');
    try {
      await work();
    } finally {
      element.removeAttribute('aria-disabled');
    }
  } }, label);
  return element;
}

/** A labelled field with an optional hint, wired for screen readers. */
export function labelled(id, label, control, hint = null) {
  control.id = id;
  if (hint) control.setAttribute('aria-describedby', `${id}-hint`);
  return h('div', { class: 'field' }, h('label', { for: id }, label), hint && h('p', { class: 'hint', id: `${id}-hint` }, hint), control);
}

/** A select with [value, label] options. */
export function select(options, chosen, onchange) {
  const element = h('select', { onchange: () => onchange(element.value) },
    options.map(([value, label]) => h('option', { value, selected: value === chosen }, label)));
  return element;
}

/** A tick box with its label, the whole row being the target. */
export function tick(id, label, checked, onchange) {
  const box = h('input', { type: 'checkbox', id, checked, onchange: () => onchange(box.checked) });
  return h('label', { class: 'tick', for: id }, box, h('span', {}, label));
}

/** A heading that takes the focus when its screen opens. */
export const heading = (text) => h('h1', { tabindex: '-1' }, text);

/** A mark told by word and shape, never by colour alone. */
export const mark = (shape, word, kind) => h('span', { class: `mark ${kind}` }, h('span', { 'aria-hidden': 'true', class: 'shape' }, shape), word);
