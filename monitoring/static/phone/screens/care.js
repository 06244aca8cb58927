/** Aftercare to do: say that a task was done, or until when it has to wait and why. */

import { button, h, heading } from '../dom.js';
import { dayInWords } from '../dates.js';
import { dayField, noteField, textField } from '../fields.js';
import { routes } from '../routes.js';
import { newCare } from '../work_draft.js';
import { photoPart } from './photo_part.js';
import { backTo, cautions, workForm, workList } from './work_parts.js';

/** When a task helps: from, until, or at any time. */
function windowWords({ t, language }, task) {
  const [from, by] = [task.due_from, task.due_by].map((day) => day && dayInWords(day, language));
  if (from && by) return t('round_days', { from, to: by });
  return by ? t('due_by', { day: by }) : t('due_any');
}

export function tasksScreen(phone) {
  return workList(phone, {
    kind: 'care', rows: phone.pack?.work?.tasks ?? [], title: 'tasks_title', route: routes.care,
    words: (task) => [task.what, `${task.block.name}, ${task.site.name} · ${windowWords(phone, task)}`],
  });
}

const amountWords = (task) => (task.amount === null ? '' : `${Number(task.amount.toPrecision(6))} ${task.amount_unit}`.trim());

export async function careScreen(phone, [uid]) {
  const { t } = phone;
  const task = await phone.begunAbout('care', uid);
  if (!task) return phone.go(routes.tasks());
  const form = await workForm(phone, { kind: 'care', subject: uid, back: routes.tasks(), begin: () => newCare(task, { today: phone.today() }) });
  const { draft, changed } = form;
  const set = (key) => (value) => { draft[key] = value; changed(); };
  const saveAs = (outcome) => () => { set('outcome')(outcome); return form.save(); };
  const unit = task.amount_unit ? ` (${task.amount_unit})` : '';
  return [
    backTo(phone, routes.tasks(), 'tasks_title'),
    heading(task.what),
    h('p', {}, `${task.block.name}, ${task.site.name}`, h('br'), h('span', { class: 'hint' }, windowWords(phone, task))),
    amountWords(task) && h('p', {}, t('amount_planned', { amount: amountWords(task) })),
    cautions(phone, phone.about('walk', task.block.uid)),
    form.before,
    form.summary,
    dayField({ id: 'done_on', label: t('done_on'), value: draft.done_on, onchange: set('done_on') }),
    textField({ id: 'amount', label: t('amount_used') + unit, value: draft.amount, onchange: set('amount') }),
    photoPart(phone, { id: 'photo', draft, changed }),
    noteField({ id: 'note', label: t('note'), value: draft.note, hint: t('note_hint'), onchange: set('note') }),
    h('div', { class: 'stack' }, button(t('care_done'), saveAs('done'), { class: 'primary' })),
    h('details', { open: draft.outcome === 'put_off' || draft.because !== '' }, h('summary', {}, t('put_off_title')),
      dayField({ id: 'until', label: t('put_off_until'), value: draft.until, onchange: set('until') }),
      textField({ id: 'because', label: t('check_because'), value: draft.because, hint: t('no_names'), onchange: set('because') }),
      h('div', { class: 'stack' }, button(t('put_off_save'), saveAs('put_off'), { class: 'quiet' }))),
    form.end,
    h('div', { class: 'stack' }, form.discard),
  ];
}
