/** One plot: where it is, what was planted, and the ways to answer for it. */

import { h, button, heading, mark } from '../dom.js';
import { draftKey, correctionDraft, newDraft } from '../draft.js';
import { timeInWords } from '../dates.js';
import { isNewerOnServer, shownItem } from '../item_states.js';
import { MARKS, plotMark } from '../marks.js';
import { routes } from '../routes.js';
import { lineTitle, problemWords } from '../words.js';

/** [status, reason] of every way a plot can be answered for without a count, "unsafe" standing apart. */
export const OTHER_ANSWERS = [
  ['missing', 'refused'], ['missing', 'not_located'], ['missing', 'not_reached'],
  ['destroyed', 'burnt'], ['destroyed', 'slid'], ['destroyed', 'built_on'], ['destroyed', 'other'],
];

function sizeWords(t, plot) {
  const words = [t(`shape_${plot.shape}`)];
  if (plot.radius_m) words.push(t('size_radius', { radius: plot.radius_m }));
  if (plot.length_m) words.push(t('size_length', { length: plot.length_m }));
  if (plot.width_m) words.push(t('size_width', { width: plot.width_m }));
  if (plot.spots) words.push(t('size_spots', { count: plot.spots }));
  return words.join(', ');
}

function place(t, plot) {
  if (plot.latitude === null || plot.longitude === null) return null;
  const coordinates = `${plot.latitude.toFixed(6)}, ${plot.longitude.toFixed(6)}`;
  return h('p', {}, h('a', { class: 'inline', href: `geo:${plot.latitude},${plot.longitude}` }, t('open_in_maps'), ' ', h('bdi', { dir: 'ltr' }, coordinates)));
}

function baselineRow(phone, baseline, baselines) {
  const { t } = phone;
  const { common, scientific, cohorts } = lineTitle(phone, { species: baseline.species, baselines: [baseline.uid] }, baselines);
  const planted = baseline.planted === null ? t('planted_unknown') : t(`planted_${baseline.source}`, { count: baseline.planted });
  return h('li', {}, h('b', {}, common), scientific && [' ', h('i', { lang: 'la' }, scientific)], cohorts && ` · ${cohorts}`, h('br'), planted);
}

/** What this phone or the server already holds for the plot. */
function history(phone, plot, shown) {
  const { t, language } = phone;
  if (shown?.state === 'needs_help') return h('div', { class: 'notice' }, h('p', {}, h('b', {}, t('needs_help_here'))), h('p', {}, problemWords(t, shown.problem)));
  if (shown) {
    const time = timeInWords(shown.saved_at, language);
    return h('p', { class: 'notice' }, t(shown.state === 'acked' ? 'saved_and_sent' : 'saved_not_sent', { time }));
  }
  return plot.counted ? h('p', { class: 'notice' }, t('counted_already')) : null;
}

function otherAnswers(phone, start, save) {
  const { t } = phone;
  return h('details', {}, h('summary', {}, t('not_counted_why')),
    h('div', { class: 'stack' }, OTHER_ANSWERS.map(([status, reason]) => button(t(`reason_${reason}`), async () => save(start(), status, reason), { class: 'quiet' }))));
}

export async function plotScreen(phone, [roundUid, plotUid]) {
  const { t } = phone;
  const { round, plot } = phone.find(roundUid, plotUid);
  const items = await phone.store.items();
  const shown = shownItem(items, roundUid, plotUid);
  const draft = await phone.store.draft(draftKey(roundUid, plotUid));
  const fresh = () => (shown ? correctionDraft(shown, plot) : newDraft({ plot, round, today: phone.today() }));
  const count = async () => {
    if (!draft) await phone.store.keepDraft({ ...fresh(), status: 'counted', reason: '' });
    phone.go(routes.count(roundUid, plotUid));
  };
  const answer = async (begun, status, reason) => {
    if (draft && !confirm(t('discard_ask', { plot: plot.name }))) return null;
    return phone.save({ ...begun, status, reason });
  };
  const { shape, key } = MARKS[plotMark(shown ? [shown] : [], Boolean(draft), plot, roundUid)];
  const label = draft ? 'go_on_counting' : shown ? 'correct_count' : plot.counted ? 'count_again' : 'count_plot';
  return [
    h('p', {}, h('a', { class: 'quiet', href: routes.plots() }, t('back_to_plots'))),
    heading(plot.name),
    h('p', {}, `${plot.block.name}, ${plot.site.name}`, h('br'), h('span', { class: 'hint' }, round.name)),
    h('p', {}, mark(shape, t(key), key)),
    history(phone, plot, shown),
    isNewerOnServer(shown, items, plot.last) && h('p', { class: 'notice' }, t('newer_on_server')),
    h('h2', {}, t('where')),
    h('p', {}, sizeWords(t, plot)),
    plot.directions && h('p', {}, plot.directions),
    place(t, plot),
    h('h2', {}, t('planted_here')),
    plot.baselines.length > 0 ? h('ul', { class: 'plain' }, plot.baselines.map((one) => baselineRow(phone, one, plot.baselines))) : h('p', {}, t('no_baseline')),
    h('div', { class: 'stack' },
      button(t(label), count, { class: 'primary' }),
      button(t('reason_unsafe'), () => answer(fresh(), 'missing', 'unsafe'), { class: 'quiet', 'aria-describedby': 'unsafe-hint' }),
      h('p', { class: 'hint', id: 'unsafe-hint' }, t('unsafe_hint'))),
    otherAnswers(phone, fresh, answer),
    phone.pack.emergency && h('p', { class: 'notice' }, h('b', {}, t('emergency')), ' ', phone.pack.emergency),
  ];
}
