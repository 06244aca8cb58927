/** The frame around every screen: the name, the truth about sending, the update offer. */

import { button, h } from './dom.js';
import { routes } from './routes.js';
import { sendingWords } from './words.js';

/** Build the frame once; `show` swaps the screen, `tell` the status line. */
export function buildFrame(root, phone) {
  const status = h('a', { class: 'status', href: routes.outbox(), hidden: true });
  const spoken = h('div', { role: 'status', class: 'visually-hidden' });
  const notices = h('div', { class: 'notices' });
  const main = h('main', { id: 'main' });
  const help = h('a', { class: 'help', href: routes.help() });
  root.replaceChildren(h('header', {}, h('div', { class: 'name' }, 'tallygrove', help), status, spoken), notices, main);

  function tell(counts) {
    const { t, language } = phone;
    help.textContent = t('help_title');
    status.hidden = !counts;
    if (!counts) return;
    const words = [...sendingWords(t, language, counts), phone.safety.kept ? t('safe_short') : t('unsafe_short')];
    status.replaceChildren(...words.flatMap((word, index) => [index > 0 ? ' · ' : '', h('span', {}, word)]));
    status.classList.toggle('attention', counts.needsHelp > 0);
    if (spoken.textContent !== words[0]) spoken.textContent = words[0];
  }

  function notice(name, ...content) {
    const old = notices.querySelector(`[data-name="${name}"]`);
    old?.remove();
    if (content.length > 0) notices.append(h('div', { class: 'notice', 'data-name': name, role: 'status' }, content));
  }

  /** A new release waits until a tap, and until no count is open. */
  function offerUpdate(letIn) {
    const { t } = phone;
    const note = h('p', {}, t('update_ready'));
    const update = () => {
      if (phone.countIsOpen()) note.textContent = t('update_not_now');
      else letIn();
    };
    notice('update', note, button(t('update'), update, { class: 'quiet' }));
  }

  /** Swap the screen. A quiet change (news from the server) moves neither the page nor the focus. */
  function show(content, title, { quiet = false } = {}) {
    main.replaceChildren(...[content].flat(Infinity).filter(Boolean));
    document.title = title ? `${title} – Tallygrove` : 'Tallygrove';
    if (quiet) return;
    window.scrollTo(0, 0);
    main.querySelector('h1')?.focus();
  }

  return { tell, notice, offerUpdate, show };
}
