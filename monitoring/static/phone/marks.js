/** One mark per plot, by word and shape. */

import { draftKey } from './draft.js';
import { shownItem } from './item_states.js';

export const MARKS = {
  needs_help: { shape: '▲', key: 'mark_needs_help' },
  draft: { shape: '◐', key: 'mark_draft' },
  saved: { shape: '▣', key: 'mark_saved' },
  sent: { shape: '✓', key: 'mark_sent' },
  counted: { shape: '●', key: 'mark_counted' },
  open: { shape: '○', key: 'mark_open' },
};

/** Which mark a plot gets from its items on this phone, its draft and what the server last said. */
export function plotMark(items, hasDraft, plot, roundUid) {
  const shown = shownItem(items, roundUid, plot.uid);
  if (shown?.state === 'needs_help') return 'needs_help';
  if (hasDraft) return 'draft';
  if (shown) return shown.state === 'acked' ? 'sent' : 'saved';
  return plot.counted ? 'counted' : 'open';
}

/** Marks of all plots, each item read once. */
export function allMarks(pack, items, drafts) {
  const byPlot = grouped(items);
  const open = new Set(drafts.map((draft) => draft.key));
  const marks = new Map();
  for (const round of pack.rounds) {
    for (const plot of round.plots) {
      const key = draftKey(round.uid, plot.uid);
      marks.set(key, plotMark(byPlot.get(key) ?? [], open.has(key), plot, round.uid));
    }
  }
  return marks;
}

function grouped(items) {
  const groups = new Map();
  for (const item of items) {
    const key = draftKey(item.round, item.plot);
    groups.set(key, [...(groups.get(key) ?? []), item]);
  }
  return groups;
}

/** Plots of a round that need no more visit. */
export function doneCount(round, marks) {
  return round.plots.filter((plot) => ['saved', 'sent', 'counted'].includes(marks.get(draftKey(round.uid, plot.uid)))).length;
}
