/** Saved on this phone; sent when it is sent. */

import { h, heading } from '../dom.js';
import { timeInWords } from '../dates.js';
import { routes } from '../routes.js';
import { problemWords, statusWords } from '../words.js';

/** What has become of one item since it was saved. */
export function fate(t, language, item) {
  if (item.state === 'acked') {
    const sent = t('fate_sent', { time: timeInWords(item.acked_at, language) });
    const flags = item.flags.map((flag) => t(`flag_${flag}`, {}, flag)).join('; ');
    return flags ? `${sent} ${t('fate_flags')} ${flags}.` : sent;
  }
  if (item.state === 'needs_help') return `${t('fate_needs_help')} ${problemWords(t, item.problem)}`;
  return t(item.state === 'replaced' ? 'fate_replaced' : 'fate_waiting');
}

export async function savedScreen(phone, [id]) {
  const { t, language } = phone;
  const item = await phone.store.item(id);
  const found = item && phone.find(item.round, item.plot);
  if (!found) return phone.go(routes.plots());
  const body = JSON.parse(item.body);
  const said = h('p', { role: 'status', class: 'fate' }, fate(t, language, item));
  phone.onSent = async () => { said.textContent = fate(t, language, await phone.store.item(id)); };
  return [
    heading(t('saved_title', { time: timeInWords(item.saved_at, language) })),
    h('p', {}, h('b', {}, found.plot.name), ` · ${statusWords(t, body.status, body.reason)}`),
    said,
    h('div', { class: 'stack' },
      h('a', { class: 'primary', href: routes.plots() }, t('next_plot')),
      h('a', { class: 'quiet', href: routes.plot(item.round, item.plot) }, t('look_or_correct'))),
  ];
}
