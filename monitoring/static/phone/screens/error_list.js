/** What must be mended before a draft can be saved, on top of a screen and beside each field. */

import { h } from '../dom.js';

export const errorSummary = () => h('div', { class: 'error-summary', role: 'alert', tabindex: '-1', hidden: true });

/** The list of what must be mended, each linked to its field and repeated beside it. */
export function showProblems(phone, summary, found, about = () => '') {
  const { t } = phone;
  document.querySelectorAll('[aria-invalid]').forEach((box) => box.removeAttribute('aria-invalid'));
  document.querySelectorAll('p.error.beside').forEach((words) => words.remove());
  summary.hidden = found.length === 0;
  if (found.length === 0) return;
  const link = ({ field, key, values, ...rest }) => h('li', {}, h('a', { href: `#${field}`, onclick: (event) => {
    event.preventDefault();
    document.getElementById(field).focus();
  } }, about(rest) + t(key, values)));
  summary.replaceChildren(h('h2', {}, t('error_title')), h('ul', {}, found.map(link)));
  for (const { field, key, values } of found) {
    const box = document.getElementById(field);
    box.closest('details')?.setAttribute('open', '');
    box.setAttribute('aria-invalid', 'true');
    box.closest('.field').prepend(h('p', { class: 'error beside' }, t(key, values)));
  }
  document.title = `${t('error_prefix')} ${document.title.replace(`${t('error_prefix')} `, '')}`;
  summary.focus();
}
