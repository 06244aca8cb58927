/** The store's promises kept in memory, so that the outbox is tested without a browser. */

const clone = (value) => structuredClone(value);

export function memoryStore(items = []) {
  const kept = new Map(items.map((item) => [item.id, clone(item)]));
  const notes = new Map();
  const drafts = new Map();
  const pictures = new Map();
  const history = [];

  const due = (item, { state, dueBefore = Infinity }) => item.state === state && item.due_at <= dueBefore;
  const ordered = (a, b) => a.due_at - b.due_at || (a.id < b.id ? -1 : 1);
  const selected = (select) => (select.ids
    ? select.ids.map((id) => kept.get(id)).filter(Boolean)
    : [...kept.values()].filter((item) => due(item, select)).sort(ordered).slice(0, select.limit ?? Infinity));

  return {
    passUid: 'pass-1',
    history,
    async changeItems(select, change) {
      const changed = clone(change(clone(selected(select))));
      for (const item of changed) {
        kept.set(item.id, item);
        history.push([item.id, item.state]);
      }
      return clone(changed);
    },
    async saveItem(item, { draftKey, replacedItem = null }) {
      if (this.full > 0) {
        this.full -= 1;
        throw Object.assign(new Error('full'), { name: 'QuotaExceededError' });
      }
      if (kept.has(item.id)) throw Object.assign(new Error('there already'), { name: 'ConstraintError' });
      kept.set(item.id, clone(item));
      drafts.delete(draftKey);
      if (replacedItem) kept.set(replacedItem.id, clone(replacedItem));
    },
    items: async () => clone([...kept.values()]),
    item: async (id) => clone(kept.get(id)),
    countUnsent: async (states) => Object.fromEntries(states.map((state) => [state, [...kept.values()].filter((item) => item.state === state).length])),
    removeItems: async (ids) => ids.forEach((id) => kept.delete(id)),
    keepPicture: async (picture) => { pictures.set(picture.sha256, clone(picture)); },
    picture: async (sha256) => clone(pictures.get(sha256)),
    pictureNames: async () => [...pictures.keys()],
    countPictures: async (item) => [...pictures.values()].filter((one) => !item || one.item === item).length,
    dropPicture: async (sha256) => { pictures.delete(sha256); },
    drafts: async () => clone([...drafts.values()]),
    draft: async (key) => clone(drafts.get(key)),
    keepDraft: async (draft) => { drafts.set(draft.key, clone(draft)); },
    note: async (name, value) => { notes.set(name, clone(value)); },
    noted: async (name) => clone(notes.get(name)),
    full: 0,
  };
}
