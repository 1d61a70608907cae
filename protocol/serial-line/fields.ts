/**
 * The two things a field of a `tm1` line can be, a number or a name, and where a field ends.
 * Numbers are `0|-?[1-9][0-9]*`: one way to write each, so that a line can be made again byte for byte.
 */
const COMMA = ",";
const MINUS = 0x2d;
const ZERO = 0x30;

const NAME = /^[A-Za-z0-9._/-]{1,32}$/;
/** What a body may hold: 0x21..0x7E without the asterisk, which begins the check sum. */
const BODY = /^[!-)+-~]*$/;

export const isName = (text: string | undefined): text is string => text !== undefined && NAME.test(text);
export const isBody = (text: string): boolean => BODY.test(text);

/** Index of the comma that ends the field beginning at `from`; `end` where it is the last one. */
export function fieldEnd(text: string, from: number, end: number): number {
  const comma = text.indexOf(COMMA, from);
  return comma < 0 ? end : comma;
}

/** The number written from `from` up to, not including, `to`; NaN where none is: a field that is missing is none. */
export function numberIn(text: string, from: number, to: number): number {
  const negative = text.charCodeAt(from) === MINUS;
  let at = negative ? from + 1 : from;
  if (at >= to) return Number.NaN;
  let value = text.charCodeAt(at) - ZERO;
  if (value < 0 || value > 9) return Number.NaN;
  if (value === 0) return !negative && at + 1 === to ? 0 : Number.NaN;
  for (at++; at < to; at++) {
    const digit = text.charCodeAt(at) - ZERO;
    if (digit < 0 || digit > 9) return Number.NaN;
    value = value * 10 + digit;
  }
  return negative ? -value : value;
}

export function numberOf(field: string | undefined): number {
  return field === undefined ? Number.NaN : numberIn(field, 0, field.length);
}

export const within = (value: number, low: number, high: number): boolean => value >= low && value <= high;
