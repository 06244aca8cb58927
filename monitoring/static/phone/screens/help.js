/** Help that works without signal: install, language, what the marks mean. */

import { h, heading, labelled, mark, select } from '../dom.js';
import { LANGUAGES } from '../messages.js';
import { MARKS } from '../marks.js';
import { routes } from '../routes.js';
import { isAppleTab, isInstalled } from '../safety.js';

export async function helpScreen(phone) {
  const { t } = phone;
  const languages = Object.entries(LANGUAGES);
  const install = isInstalled() ? 'help_installed' : isAppleTab() ? 'help_install_apple' : 'help_install';
  return [
    phone.store && h('p', {}, h('a', { class: 'quiet', href: routes.plots() }, t('back_to_plots'))),
    heading(t('help_title')),
    labelled('language', t('language'), select(languages, phone.language, (value) => phone.chooseLanguage(value))),
    h('h2', {}, t('help_marks')),
    h('ul', { class: 'plain' }, Object.values(MARKS).map(({ shape, key }) => h('li', {}, mark(shape, t(key), key), ' ', t(`${key}_help`)))),
    h('h2', {}, t('help_before')),
    h('p', {}, t('help_before_text')),
    h('h2', {}, t('help_install_title')),
    h('p', {}, t(install)),
    h('h2', {}, t('help_counting')),
    ['help_alive', 'help_dead', 'help_not_found', 'help_seedlings', 'help_suckers'].map((key) => h('p', {}, t(key))),
    h('p', { class: 'hint' }, t('release', { release: phone.release })),
  ];
}
