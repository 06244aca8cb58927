/** Fields for counts: a box to type in between two large keys. */

import { stepped } from './arithmetic.js';
import { h } from './dom.js';

const buzz = () => globalThis.navigator?.vibrate?.(12);

/**
 * A whole-number field with − and + keys.
 *
 * `empty()` is what an empty box stands for when a key is pressed; `say`
 * names the keys for people who do not see them.
 */
export function numberField({ id, label, value, onchange, hint = null, empty = () => 0, say }) {
  const box = h('input', {
    id, type: 'text', inputmode: 'numeric', autocomplete: 'off', class: 'number', value,
    'aria-describedby': hint ? `${id}-hint` : null, oninput: () => onchange(box.value),
  });
  const key = (sign, by, name) => h('button', { type: 'button', class: 'key', 'aria-label': `${name}: ${label}`, 'aria-controls': id, onclick: () => {
    box.value = stepped(box.value, by, empty());
    buzz();
    onchange(box.value);
  } }, sign);
  return h('div', { class: 'field' },
    h('label', { for: id }, label),
    hint && h('p', { class: 'hint', id: `${id}-hint` }, hint),
    h('div', { class: 'stepper' }, key('−', -1, say('one_less')), box, key('+', 1, say('one_more'))));
}

/** A line of plain text. */
export function textField({ id, label, value, onchange, hint = null, ...more }) {
  const box = h('input', { id, type: 'text', autocomplete: 'off', value, 'aria-describedby': hint ? `${id}-hint` : null, oninput: () => onchange(box.value), ...more });
  return h('div', { class: 'field' }, h('label', { for: id }, label), hint && h('p', { class: 'hint', id: `${id}-hint` }, hint), box);
}

/** A calendar day. */
export function dayField({ id, label, value, onchange, hint = null }) {
  const box = h('input', { id, type: 'date', value, 'aria-describedby': hint ? `${id}-hint` : null, oninput: () => onchange(box.value) });
  return h('div', { class: 'field' }, h('label', { for: id }, label), hint && h('p', { class: 'hint', id: `${id}-hint` }, hint), box);
}

/** Several lines of plain text. */
export function noteField({ id, label, value, onchange, hint = null }) {
  const box = h('textarea', { id, rows: '3', 'aria-describedby': hint ? `${id}-hint` : null, oninput: () => onchange(box.value) });
  box.value = value;
  return h('div', { class: 'field' }, h('label', { for: id }, label), hint && h('p', { class: 'hint', id: `${id}-hint` }, hint), box);
}

/** One of a few answers, each a row that can be tapped. `options` are [value, words]; the first carries the id. */
export function choices({ id, label, value, options, onchange, hint = null }) {
  const row = ([key, words], index) => {
    const box = h('input', { type: 'radio', name: id, id: index === 0 ? id : `${id}-${key}`, value: key, checked: key === value, onchange: () => onchange(key) });
    return h('label', { class: 'tick', for: box.id }, box, h('span', {}, words));
  };
  return h('fieldset', { class: 'field' }, h('legend', {}, label), hint && h('p', { class: 'hint' }, hint), options.map(row));
}
