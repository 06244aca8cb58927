/** What the screens of field work share: the list to choose from, what was recorded before, the way to save. */

import { button, h, heading, mark } from '../dom.js';
import { timeInWords } from '../dates.js';
import { routes } from '../routes.js';
import { problemWords } from '../words.js';
import { errorSummary, showProblems } from './error_list.js';
import { workProblems } from '../work_checks.js';
import { offered, workKey } from '../work_draft.js';
import { MARKS } from '../marks.js';

/** This phone's records of one subject, the newest first. */
export const recordsOf = (items, kind, subject) => items.filter((item) => item.kind === kind && item.subject === subject && item.state !== 'replaced')
  .sort((a, b) => b.saved_at - a.saved_at);

/** The mark of a row: begun, saved, sent or in need of help; null where this phone has nothing of it. */
export function workMark(items, drafts, kind, subject) {
  const [last] = recordsOf(items, kind, subject);
  if (last?.state === 'needs_help') return 'needs_help';
  if (drafts.some((draft) => draft.key === workKey(kind, subject))) return 'draft';
  if (!last) return null;
  return last.state === 'acked' ? 'sent' : 'saved';
}

/** A list of things to record something of; `words` gives [name, hint] of each. */
export async function workList(phone, { kind, rows, title, route, words }) {
  const { t } = phone;
  const [items, drafts] = [await phone.store.items(), await phone.store.drafts()];
  const shown = offered(rows, drafts, kind);
  const row = (one) => {
    const [name, hint] = words(one);
    const standing = MARKS[workMark(items, drafts, kind, one.uid)];
    return h('li', {}, h('a', { class: 'row', href: route(one.uid) },
      h('span', {}, h('span', { class: 'row-name' }, name), h('br'), h('span', { class: 'hint' }, hint)), standing && mark(standing.shape, t(standing.key), standing.key)));
  };
  return [
    h('p', {}, h('a', { class: 'quiet', href: routes.plots() }, t('back'))),
    heading(t(title)),
    shown.length > 0 ? h('ul', { class: 'rows' }, shown.map(row)) : h('p', {}, t('work_empty')),
  ];
}

/** What this phone recorded of the subject before, in words that never claim more than happened. */
function before(phone, last) {
  const { t, language } = phone;
  if (!last) return null;
  if (last.state === 'needs_help') {
    return h('div', { class: 'notice' }, h('p', {}, h('b', {}, t('record_refused'))), h('p', {}, problemWords(t, last.problem)),
      button(t('record_mend'), () => phone.mend(last), { class: 'quiet' }));
  }
  return h('p', { class: 'notice' }, t(last.state === 'acked' ? 'saved_and_sent' : 'saved_not_sent', { time: timeInWords(last.saved_at, language) }));
}

/** Open the draft of one subject, or begin one; nothing is written before the first change. */
export async function workForm(phone, { kind, subject, begin, back }) {
  const key = workKey(kind, subject);
  const draft = (await phone.store.draft(key)) ?? begin();
  const changed = () => phone.keepDraft(draft);
  const summary = errorSummary();
  const save = async () => {
    const found = workProblems(draft, phone.today());
    showProblems(phone, summary, found);
    if (found.length === 0) await phone.saveWork(draft);
  };
  const discard = async () => {
    if (!confirm(phone.t('record_discard_ask'))) return;
    await phone.dropDraft(key);
    await phone.tell();
    phone.go(back);
  };
  const [last] = recordsOf(await phone.store.items(), kind, subject);
  return {
    draft, changed, save, summary, before: before(phone, last),
    end: [h('p', { class: 'hint' }, phone.t('draft_kept'))],
    discard: button(phone.t('record_discard'), discard, { class: 'quiet' }),
  };
}

export const backTo = (phone, address, key) => h('p', {}, h('a', { class: 'quiet', href: address }, phone.t(key)));

/** What may hurt somebody in a block, and whom to call there. */
export const cautions = ({ t }, block) => block && [
  block.hazards && h('p', { class: 'notice' }, h('b', {}, t('hazards')), ' ', block.hazards),
  block.emergency && h('p', {}, h('b', {}, t('emergency')), ' ', block.emergency),
];
