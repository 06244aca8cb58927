/** The words of the phone form, in each language we speak. */

import en from './messages/en.js';
import es from './messages/es.js';
import fr from './messages/fr.js';
import pt from './messages/pt.js';
import sw from './messages/sw.js';

export const LANGUAGES = { en: 'English', pt: 'Português', es: 'Español', fr: 'Français', sw: 'Kiswahili' };
export const CATALOGUES = { en, pt, es, fr, sw };

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
