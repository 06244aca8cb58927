/** What waits, what needs help, what arrived: and the ways out. */

import { h, button, heading } from '../dom.js';
import { timeInWords } from '../dates.js';
import { UNSENT, returned } from '../item_states.js';
import { routes } from '../routes.js';
import { safetyKey } from '../safety.js';
import { problemWords, workName } from '../words.js';
import { fate } from './saved.js';

const MOST_SHOWN = 30;

/** The pictures that still wait, and those the server would not take, which can be let go. */
async function pictureList(phone, redraw) {
  const { t } = phone;
  const names = await phone.store.pictureNames();
  const refused = (await Promise.all(names.map((name) => phone.store.picture(name)))).filter((one) => one?.problem);
  if (names.length === 0) return null;
  const drop = (one) => async () => { await phone.store.dropPicture(one.sha256); await phone.tell(); await redraw(); };
  return h('section', {}, h('h2', {}, t('pictures_title')), h('p', {}, t('pictures_to_send', { count: names.length })), h('p', { class: 'hint' }, t('pictures_wait_hint')),
    refused.length > 0 && h('ul', { class: 'plain' }, refused.map((one) => h('li', {}, h('p', { class: 'error' }, problemWords(t, one.problem)), button(t('picture_drop'), drop(one), { class: 'quiet' })))));
}

function itemName(phone, item) {
  if (item.kind !== 'visit') return h('p', {}, h('b', {}, workName(phone, item)), ` · ${phone.t(`kind_${item.kind}`)} · ${timeInWords(item.saved_at, phone.language)}`);
  const found = phone.find(item.round, item.plot);
  const place = found ? `${found.plot.name}, ${found.plot.block.name}` : phone.t('plot_left');
  return h('p', {}, h('b', {}, place), ` · ${timeInWords(item.saved_at, phone.language)}`);
}

function helpRow(phone, item, redraw) {
  const { t } = phone;
  const again = async () => {
    await phone.store.changeItems({ ids: [item.id] }, (items) => items.map((one) => returned(one, Date.now())));
    await phone.sendNow();
    await redraw();
  };
  return h('li', {}, itemName(phone, item), h('p', {}, problemWords(t, item.problem)), h('div', { class: 'stack' },
    item.kind !== 'visit' && item.outcome !== 'id_reused' && button(t('record_mend'), () => phone.mend(item), { class: 'primary' }),
    phone.find(item.round, item.plot) && h('a', { class: 'primary', href: routes.plot(item.round, item.plot) }, t('correct_count')),
    item.outcome !== 'id_reused' && button(t('try_again'), again, { class: 'quiet' })));
}

function itemList(phone, title, items) {
  if (items.length === 0) return null;
  const { t, language } = phone;
  return h('section', {}, h('h2', {}, title), h('ul', { class: 'plain' }, items.slice(0, MOST_SHOWN).map((item) => h('li', {}, itemName(phone, item), h('p', { class: 'hint' }, fate(t, language, item))))),
    items.length > MOST_SHOWN && h('p', { class: 'hint' }, t('and_more', { count: items.length - MOST_SHOWN })));
}

export async function outboxScreen(phone) {
  const { t } = phone;
  const items = (await phone.store.items()).sort((a, b) => b.saved_at - a.saved_at);
  const inState = (...states) => items.filter((item) => states.includes(item.state));
  const said = h('p', { role: 'status', class: 'fate' }, phone.lastResultWords());
  const redraw = () => phone.render({ quiet: true });
  const standing = (list) => list.map((item) => `${item.id} ${item.state}`).sort().join();
  phone.onSent = async () => {
    said.textContent = phone.lastResultWords();
    if (standing(await phone.store.items()) !== standing(items)) await redraw();
  };
  const send = async () => { await phone.sendNow(); await redraw(); };
  const unsent = inState(...UNSENT);
  return [
    h('p', {}, h('a', { class: 'quiet', href: routes.plots() }, t('back_to_plots'))),
    heading(t('outbox_title')),
    said,
    phone.passLost && h('p', {}, h('a', { class: 'primary', href: routes.enrol() }, t('enter_code_again'))),
    button(t('send_now'), send, { class: 'primary' }),
    inState('needs_help').length > 0 && h('section', {}, h('h2', {}, t('needs_help_title')), h('p', { class: 'hint' }, t('needs_help_lead')),
      h('ul', { class: 'plain' }, inState('needs_help').map((item) => helpRow(phone, item, redraw)))),
    itemList(phone, t('waiting_title'), inState('queued', 'sending')),
    await pictureList(phone, redraw),
    itemList(phone, t('sent_title'), inState('acked', 'replaced')),
    h('section', {}, h('h2', {}, t('safety_title')), h('p', {}, t(safetyKey(phone.safety))), h('p', { class: 'hint' }, t('private_hint')),
      unsent.length > 0 && button(t('save_file'), () => phone.saveFile(), { class: 'quiet' }), unsent.length > 0 && h('p', { class: 'hint' }, t('save_file_hint'))),
    h('p', {}, h('a', { class: 'quiet', href: routes.help() }, t('help_title'))),
    h('p', {}, h('a', { class: 'quiet', href: routes.leave() }, t('leave_title'))),
  ];
}
