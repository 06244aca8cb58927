/** The words of the phone form, in each language we speak. */

import en from './messages/en.js';

export const LANGUAGES = { en: 'English' };
export const CATALOGUES = { en };

const filled = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));

/**
 * A translator for one language: `t(key, values, fallback)`.
 *
 * A message with plural forms is an object keyed by the language's plural
 * categories and chosen by `values.count`.
 */
export function translator(language) {
  const catalogue = CATALOGUES[language] ?? en;
  const plural = new Intl.PluralRules(language);
  return (key, values = {}, fallback = key) => {
    const message = catalogue[key] ?? en[key] ?? fallback;
    const text = typeof message === 'string' ? message : message[plural.select(Number(values.count))] ?? message.other;
    return filled(text, values);
  };
}
