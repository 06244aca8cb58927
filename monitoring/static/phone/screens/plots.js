/** Rounds and their plots, block by block, each with one mark. */

import { button, h, heading, mark } from '../dom.js';
import { dayInWords, timeInWords } from '../dates.js';
import { draftKey } from '../draft.js';
import { textField } from '../fields.js';
import { MARKS, allMarks, doneCount } from '../marks.js';
import { byBlock, keptPack } from '../pack.js';
import { routes } from '../routes.js';
import { isAppleTab } from '../safety.js';

const SEARCH_FROM = 15;

function plotRow(phone, round, plot, marks) {
  const { shape, key } = MARKS[marks.get(draftKey(round.uid, plot.uid))];
  return h('li', { 'data-name': plot.name.toLowerCase() }, h('a', { class: 'row', href: routes.plot(round.uid, plot.uid) },
    h('span', { class: 'row-name' }, plot.name), mark(shape, phone.t(key), key)));
}

function roundSection(phone, round, marks) {
  const { t, language } = phone;
  const days = round.opens_on && round.closes_on
    ? t('round_days', { from: dayInWords(round.opens_on, language), to: dayInWords(round.closes_on, language) }) : '';
  return h('section', {},
    h('h2', {}, round.name),
    h('p', { class: 'hint' }, days),
    h('p', {}, t('round_progress', { done: doneCount(round, marks), count: round.plots.length })),
    byBlock(round).map(({ block, site, plots }) => h('div', { class: 'block' },
      h('h3', {}, block.name, h('span', { class: 'hint' }, ` ${site.name}`)),
      h('ul', { class: 'rows' }, plots.map((plot) => plotRow(phone, round, plot, marks))))));
}

function search(phone, sections) {
  const narrow = (words) => {
    for (const row of sections.flatMap((section) => [...section.querySelectorAll('[data-name]')])) {
      row.hidden = !row.getAttribute('data-name').includes(words.trim().toLowerCase());
    }
  };
  return textField({ id: 'find', label: phone.t('find_plot'), value: '', onchange: narrow });
}

/** When the list was fetched, and a way to fetch it again before going out. */
async function fetched(phone) {
  const { t, language } = phone;
  const { fetched_at: at } = await keptPack(phone.store);
  const again = async () => { await phone.refresh(); await phone.render({ quiet: true }); };
  return h('div', { class: 'stack' }, h('p', { role: 'status' }, t('pack_fetched', { time: timeInWords(at, language) })), button(t('pack_refresh'), again, { class: 'quiet' }));
}

/** What else this phone may record, as large keys; nothing where its pass names no project. */
function otherWork(phone) {
  const { t, pack } = phone;
  if (!pack.work) return null;
  const way = (address, key) => h('a', { class: 'primary', href: address }, t(key));
  return h('section', {}, h('h2', {}, t('other_work')), h('div', { class: 'stack' },
    way(routes.lots(), 'lots_title'), way(routes.blocks(), 'blocks_title'), way(routes.tasks(), 'tasks_title')));
}

export async function plotsScreen(phone) {
  const { t, pack } = phone;
  if (!pack) return [heading(t('plots_title')), h('p', {}, t('pack_missing'))];
  const marks = allMarks(pack, await phone.store.items(), await phone.store.drafts());
  const sections = pack.rounds.map((round) => roundSection(phone, round, marks));
  return [
    heading(t('plots_title')),
    h('p', { class: 'hint' }, `${pack.organisation.name} · ${pack.person}`),
    pack.emergency && h('p', { class: 'notice' }, h('b', {}, t('emergency')), ' ', pack.emergency),
    otherWork(phone),
    pack.rounds.length === 0 && !pack.work && h('p', {}, t('no_rounds')),
    !phone.safety.kept && isAppleTab() && h('p', { class: 'notice' }, t('safe_not_apple_tab')),
    marks.size > SEARCH_FROM && search(phone, sections),
    sections,
    await fetched(phone),
  ];
}
