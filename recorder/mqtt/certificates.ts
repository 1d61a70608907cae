/**
 * When the certificates of a connection end: the broker's, which is seen as it is shown, and ours, which is in a file. A
 * certificate that ends unseen stops every message at once, on a day when nobody changed anything.
 */
import { X509Certificate } from "node:crypto";
import type { Moment } from "./envelope.ts";
import type { Trouble } from "./trouble.ts";

/** The last moment it is good for, ms since 1970, and whose it is, for people. */
export interface CertificateEnd {
  readonly whose: string;
  readonly at_ms: number;
}

/** A connection may be up for months; a certificate's last month must not pass in silence. */
const EVERY_MS = 12 * 3_600_000;

export interface CertificateListener {
  /** One ends soon; or, null, none does. */
  certificates(trouble: Trouble | null): void;
}

/** Looks at the certificates of one connection after the other, at its beginning and for as long as it is up. */
export class CertificateWatch {
  readonly #where: string;
  readonly #date: () => Moment;
  readonly #listener: CertificateListener;
  #ends: readonly CertificateEnd[] = [];
  #timer: NodeJS.Timeout | undefined;

  /** `where` is the broker as people know it. */
  constructor(where: string, date: () => Moment, listener: CertificateListener) {
    this.#where = where;
    this.#date = date;
    this.#listener = listener;
  }

  /** `own`: our certificate, where we have one. */
  dialling(own: Buffer | undefined): void {
    this.#ends = own === undefined ? [] : endInFile("broker.cert_file", own);
  }

  /** The broker's, by the last moment of it. */
  shown(ends: string): void {
    this.#ends = [...this.#ends, ...endOf(`the broker at ${this.#where}`, ends)];
  }

  up(): void {
    this.#judge();
    this.#timer = setInterval(() => this.#judge(), EVERY_MS);
  }

  down(): void {
    clearInterval(this.#timer);
  }

  #judge(): void {
    this.#listener.certificates(endingSoon(this.#ends, this.#date().at_ms));
  }
}

/** Long enough to ask somebody who comes once a month. */
const NOTICE_MS = 30 * 86_400_000;

/** The one that ends first, if that is soon; null: none does. The sentence holds a date and no countdown: it is told on change. */
export function endingSoon(ends: readonly CertificateEnd[], now_ms: number): Trouble | null {
  const [first] = ends.filter(({ at_ms }) => at_ms - now_ms < NOTICE_MS).sort((a, b) => a.at_ms - b.at_ms);
  if (first === undefined) return null;
  const day = new Date(first.at_ms).toISOString().slice(0, 10);
  return { sentence: `The certificate of ${first.whose} ends on ${day}: renew it before that day.`, alarm: null };
}

/** `text` as Node.js gives it: `Nov 25 02:00:00 2027 GMT`. */
export const endOf = (whose: string, text: string): CertificateEnd[] => {
  const at_ms = Date.parse(text);
  return Number.isNaN(at_ms) ? [] : [{ whose, at_ms }];
};

/** That of the first certificate in a PEM file, which is the owner's (RFC 5246 section 7.4.2); nothing if it holds none. */
export function endInFile(whose: string, pem: Buffer): CertificateEnd[] {
  try {
    return endOf(whose, new X509Certificate(pem).validTo);
  } catch {
    // Whoever connects with it says what is wrong with it.
    return [];
  }
}
