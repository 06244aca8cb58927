/** The field pack: what to count and where, kept on the phone from the last contact. */

/** Fetch the pack and keep it; the one kept before stays when there is no answer. */
export async function refreshPack({ service, store, now = Date.now }) {
  const pack = await service.pack();
  await store.note('pack', { pack, fetched_at: now() });
  return pack;
}

/** The pack kept on the phone, or null before the first contact. */
export async function keptPack(store) {
  return (await store.noted('pack')) ?? null;
}

/** Find a plot and its round by their uids. */
export function findPlot(pack, roundUid, plotUid) {
  const round = pack.rounds.find((one) => one.uid === roundUid);
  const plot = round?.plots.find((one) => one.uid === plotUid);
  return plot ? { round, plot } : null;
}

/** A lot, block or care task of the pack that field work may be recorded of, or null. */
export function findWork(pack, part, uid) {
  return pack?.work?.[part]?.find((one) => one.uid === uid) ?? null;
}

/** The name a crew uses for a species, in their language where the pack has it. */
export function speciesName(pack, slug, language) {
  const species = pack.species.find((one) => one.slug === slug);
  if (!species) return { common: slug, scientific: '' };
  return { common: species.names?.[language] ?? species.scientific_name, scientific: species.scientific_name };
}

/** [slug, label] for a list of species, by name; those invasive in the country are left out or said to be so. */
export function speciesChoices(pack, language, { country, invasive }) {
  const spreads = (species) => (species.invasive_in ?? []).includes(country);
  const shown = pack.species.filter((species) => invasive !== 'leave_out' || !spreads(species));
  const label = (species) => {
    const { common, scientific } = speciesName(pack, species.slug, language);
    const name = common === scientific ? scientific : `${common} (${scientific})`;
    return spreads(species) ? `${name} – ${invasive}` : name;
  };
  return shown.map((species) => [species.slug, label(species)]).sort((a, b) => a[1].localeCompare(b[1], language));
}

/** Plots of a round in block order. */
export function byBlock(round) {
  const blocks = new Map();
  for (const plot of round.plots) {
    const block = blocks.get(plot.block.uid) ?? { block: plot.block, site: plot.site, plots: [] };
    block.plots.push(plot);
    blocks.set(plot.block.uid, block);
  }
  return [...blocks.values()];
}
