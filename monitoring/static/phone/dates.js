/** Dates as the phone tells them: local days, and instants that keep their offset. */

const two = (number) => String(Math.abs(number)).padStart(2, '0');

/** The local calendar day as YYYY-MM-DD. */
export function localDay(date = new Date()) {
  return `${String(date.getFullYear()).padStart(4, '0')}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}

/** An RFC 3339 instant with the offset from UTC that the phone used. */
export function instantWithOffset(date = new Date()) {
  const minutes = -date.getTimezoneOffset();
  const sign = minutes < 0 ? '-' : '+';
  const hours = Math.trunc(Math.abs(minutes) / 60);
  const clock = `${two(date.getHours())}:${two(date.getMinutes())}:${two(date.getSeconds())}`;
  const fraction = String(date.getMilliseconds()).padStart(3, '0');
  return `${localDay(date)}T${clock}.${fraction}${sign}${two(hours)}:${two(Math.abs(minutes) % 60)}`;
}

/** Whether a text is a day that exists, written YYYY-MM-DD. */
export function isDay(text) {
  const parts = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text ?? '');
  if (!parts) return false;
  const date = new Date(Date.UTC(+parts[1], +parts[2] - 1, +parts[3]));
  return date.getUTCMonth() === +parts[2] - 1 && date.getUTCDate() === +parts[3];
}

const locale = (language) => (language === 'en' ? 'en-GB' : language);

/** A day in words, such as "25 November 2026". */
export function dayInWords(day, language) {
  if (!isDay(day)) return day;
  const format = new Intl.DateTimeFormat(locale(language), { day: 'numeric', month: 'long', year: 'numeric', timeZone: 'UTC' });
  return format.format(new Date(`${day}T00:00:00Z`));
}

/** The time of day, and the day too when it is not today. */
export function timeInWords(milliseconds, language, now = Date.now()) {
  const date = new Date(milliseconds);
  const clock = { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' };
  const sameDay = localDay(date) === localDay(new Date(now));
  const options = sameDay ? clock : { day: 'numeric', month: 'short', ...clock };
  return new Intl.DateTimeFormat(locale(language), options).format(date);
}
