/** Sentences that several screens share. */

import { timeInWords } from './dates.js';

/** What to tell a person when the server did not do as asked: its own words where it gave some. */
export function errorWords(t, error) {
  const problem = error?.problem;
  if (problem?.code === 'code_unknown') return t('error_code_unknown');
  if (problem?.code === 'code_expired') return t('error_code_expired');
  if (problem) return problemWords(t, problem);
  const known = ['offline', 'busy', 'portal', 'no_pass'];
  return known.includes(error?.reason) ? t(`trouble_${error.reason}`) : t('trouble_unknown', { detail: error?.message ?? '' });
}

/** A problem as the server worded it, with its details. */
export function problemWords(t, problem) {
  if (!problem) return t('problem_too_large');
  const details = (problem.errors ?? []).map((one) => one.detail).filter(Boolean);
  return [problem.detail || problem.title, ...details].filter(Boolean).join(' ') || t('problem_unworded');
}

/** "3 to send · last sent 09:14": what is waiting, and what has arrived. */
export function sendingWords(t, language, { unsent, needsHelp, lastSent, pictures = 0 }) {
  return [
    unsent > 0 ? t('to_send', { count: unsent }) : pictures === 0 && t('nothing_to_send'),
    pictures > 0 && t('pictures_to_send', { count: pictures }),
    needsHelp > 0 && t('need_help', { count: needsHelp }),
    lastSent ? t('last_sent', { time: timeInWords(lastSent, language) }) : unsent > 0 && t('never_sent'),
  ].filter(Boolean);
}

/** The name of a line: species, and which planting when it is known. */
export function lineTitle(phone, line, baselines) {
  const { common, scientific } = phone.speciesName(line.species);
  const cohorts = line.baselines.map((uid) => baselines.find((one) => one.uid === uid)?.cohort).filter((label) => label && !/^[0-9a-f-]{36}$/.test(label));
  return { common, scientific: common === scientific ? '' : scientific, cohorts: [...new Set(cohorts)].join(' + ') };
}

/** How a plot could not be counted, or that it was. */
export const statusWords = (t, status, reason) => (status === 'counted' ? t('status_counted') : t(`reason_${reason}`));

/** What a line is measured against: trees planted, or only the spots somebody could still see. */
export function baselineWords(t, line, baselines, planted) {
  if (planted === null) return t('planted_unknown');
  const rebuilt = line.baselines.some((uid) => baselines.find((one) => one.uid === uid)?.source === 'visible_spots');
  return t(rebuilt ? 'planted_visible_spots' : `baseline_${line.unit}`, { count: planted });
}

/** What a record of field work is about: the lot's code, the block's name or the task. */
export function workName(phone, item) {
  const about = phone.about(item.kind, item.subject) ?? item.typed.about;
  return about.code ?? about.what ?? about.name;
}
