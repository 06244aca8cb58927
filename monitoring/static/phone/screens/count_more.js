/** The parts of the sheet below the lines: natural regeneration, removals, plantings without a line. */

import { fieldId } from '../checks.js';
import { button, h, labelled, select, tick } from '../dom.js';
import { emptyRegeneration, emptyRemoval } from '../draft.js';
import { dayField, numberField, textField } from '../fields.js';
import { speciesChoices } from '../pack.js';
import { lineTitle } from '../words.js';

const REASONS = ['thinning', 'theft', 'construction', 'other'];

/** A list of rows that can grow; a new row gets the focus. */
function rowList(phone, { title, hint, add, rows, empty, draw, changed }) {
  const list = h('div', {});
  const redraw = () => list.replaceChildren(...rows.map((row, index) => h('div', { class: 'part' }, draw(row, index), drop(index))));
  const drop = (index) => button(phone.t('drop_row'), () => { rows.splice(index, 1); redraw(); changed(); }, { class: 'quiet' });
  const grow = () => {
    rows.push(empty());
    redraw();
    changed();
    list.lastElementChild.querySelector('input, select').focus();
  };
  redraw();
  return h('fieldset', { class: 'line' }, h('legend', {}, h('b', {}, title)), h('p', { class: 'hint' }, hint), list, button(add, grow, { class: 'quiet' }));
}

function regenerationRow(phone, round, row, index, changed) {
  const { t } = phone;
  const id = (key) => fieldId('regeneration', index, key);
  const set = (key) => (value) => { row[key] = value; changed(); };
  const name = textField({ id: id('name'), label: t('species_name'), value: row.name, onchange: set('name') });
  name.hidden = row.species !== '';
  const choices = [['', t('species_not_listed')], ...speciesChoices(phone.pack, phone.language, { country: round.country, invasive: t('invasive_here') })];
  const species = select(choices, row.species, (value) => { name.hidden = value !== ''; set('species')(value); });
  const height = (key) => [numberField({ id: id(key), label: t(`height_${key}`), value: row[key], say: t, onchange: set(key) }), tick(id(`${key}_capped`), t('capped'), row[`${key}_capped`], set(`${key}_capped`))];
  return [labelled(id('species'), t('species'), species), name, height('lower'), height('upper'),
    textField({ id: id('subplot_area_m2'), label: t('subplot_area_m2'), value: row.subplot_area_m2, hint: t('subplot_hint'), onchange: set('subplot_area_m2') })];
}

export function regenerationPart(phone, { draft, round, changed }) {
  const { t } = phone;
  return rowList(phone, {
    title: t('regeneration_title'), hint: t('regeneration_hint'), add: t('add_regeneration'), rows: draft.regeneration, changed,
    empty: emptyRegeneration, draw: (row, index) => regenerationRow(phone, round, row, index, changed),
  });
}

function removalRow(phone, baselines, row, index, changed) {
  const { t } = phone;
  const id = (key) => fieldId('removal', index, key);
  const set = (key) => (value) => { row[key] = value; changed(); };
  const choices = baselines.map((one) => {
    const { common, cohorts } = lineTitle(phone, { species: one.species, baselines: [one.uid] }, baselines);
    return [one.uid, [common, cohorts].filter(Boolean).join(' · ')];
  });
  return [
    labelled(id('baseline'), t('removed_from'), select(choices, row.baseline, set('baseline'))),
    numberField({ id: id('alive_removed'), label: t('alive_removed'), value: row.alive_removed, say: t, onchange: set('alive_removed') }),
    dayField({ id: id('removed_on'), label: t('removed_on'), value: row.removed_on, onchange: set('removed_on') }),
    labelled(id('reason'), t('removal_reason'), select(REASONS.map((reason) => [reason, t(`removal_${reason}`)]), row.reason, set('reason'))),
  ];
}

export function removalPart(phone, { draft, baselines, changed }) {
  const { t } = phone;
  if (baselines.length === 0) return null;
  return rowList(phone, {
    title: t('removals_title'), hint: t('removals_hint'), add: t('add_removal'), rows: draft.removals, changed,
    empty: () => emptyRemoval(baselines[0].uid, draft.observed_on), draw: (row, index) => removalRow(phone, baselines, row, index, changed),
  });
}

/** Ask for a planting that has no line yet: its species, and the number if somebody knows it. */
export function addPlanting(phone, { round, add }) {
  const { t } = phone;
  const choices = [['', t('choose_species')], ...speciesChoices(phone.pack, phone.language, { country: round.country, invasive: 'leave_out' })];
  const form = { species: '', planted: '', source: 'visible_spots' };
  const sources = ['visible_spots', 'later', 'none'].map((source) => [source, t(`source_${source}`)]);
  const planted = numberField({ id: 'add-planted', label: t('add_planted'), value: '', say: t, onchange: (value) => { form.planted = value; } });
  const trouble = h('p', { class: 'error', role: 'alert', hidden: true }, t('error_species'));
  const finish = () => {
    trouble.hidden = form.species !== '';
    if (form.species) add({ ...form, planted: form.source === 'none' ? '' : form.planted });
  };
  return h('details', {}, h('summary', {}, t('add_planting')), h('p', { class: 'hint' }, t('add_planting_hint')), trouble,
    labelled('add-species', t('species'), select(choices, '', (value) => { form.species = value; })),
    labelled('add-source', t('add_source'), select(sources, form.source, (value) => { form.source = value; planted.hidden = value === 'none'; })),
    planted, button(t('add_planting_done'), finish, { class: 'quiet' }));
}
