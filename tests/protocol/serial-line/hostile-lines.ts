/**
 * Lines no board should say, among some that one does: cut, flipped, spliced, at another baud rate, with a good check sum and
 * bad fields, in the wrong order, too many keys and tags. One seed, one stream.
 */
import { checkSumText, crc16 } from "../../../protocol/serial-line/crc16.ts";
import { encodeDeviceLine } from "../../../protocol/serial-line/encode.ts";
import { LINE_CAP_BYTES } from "../../../protocol/serial-line/lines.ts";

const PERIOD_US = 12_500;
const FIELDS = ["", "-0", "01", "+7", "1e5", "0x1F", "٣", "NaN", "-", "8388608", "-8388609", "99999999999999999999"];
const CODES = ["R", "R2", "R5", "R04", "K", "T", "X", "A", "H", "Z", "r", "RR", "I", "L", "\u00ff", "constructor"];

export const sealed = (body: string): string => `${body}*${checkSumText(crc16(body))}`;

export class HostileLines {
  #state: number;
  #seq = 65_000;
  /** Two seconds before its wrap. */
  #t_us = 2 ** 32 - 2_000_000;
  #before = "";
  readonly #burst: string[] = [];

  constructor(seed: number) {
    this.#state = seed >>> 0;
  }

  /** One line as latin1, without its LF. */
  next(): string {
    const waiting = this.#burst.pop();
    if (waiting !== undefined) return waiting;
    const good = this.#good();
    const line = this.#spoiled(good, this.#below(18));
    this.#before = good;
    return line;
  }

  /** 32 bits of an xorshift (Marsaglia 2003), reduced; its bias is of no account here. */
  #below(limit: number): number {
    this.#state ^= this.#state << 13;
    this.#state ^= this.#state >>> 17;
    this.#state ^= this.#state << 5;
    this.#state >>>= 0;
    return this.#state % limit;
  }

  #of<T>(choice: readonly T[]): T {
    return choice[this.#below(choice.length)] as T;
  }

  #stamp(): { readonly seq: number; readonly t_us: number } {
    const stamp = { seq: this.#seq, t_us: this.#t_us };
    this.#seq = (this.#seq + 1) % 65_536;
    return stamp;
  }

  #good(): string {
    this.#t_us = (this.#t_us + PERIOD_US) % 2 ** 32;
    return encodeDeviceLine({
      kind: "reading",
      ...this.#stamp(),
      cell: 1,
      counts: 12_000 + this.#below(9),
      muscle_action: null,
    });
  }

  #spoiled(good: string, how: number): string {
    switch (how) {
      case 0:
        return good.slice(0, this.#below(good.length));
      case 1: {
        const at = this.#below(good.length);
        const flipped = String.fromCharCode(good.charCodeAt(at) ^ (1 << this.#below(8)));
        return good.slice(0, at) + flipped + good.slice(at + 1);
      }
      case 2:
        return this.#before.slice(0, this.#below(30)) + good.slice(this.#below(good.length));
      case 3:
        return Array.from({ length: this.#below(200) }, () => this.#foreign()).join("");
      case 4:
        return sealed(`${this.#of(CODES)},${this.#of(FIELDS)},${this.#t_us},${this.#of(FIELDS)},${this.#of(FIELDS)}`);
      case 5: {
        const fields = good.slice(0, -5).split(",");
        fields[this.#below(fields.length)] = this.#of(FIELDS);
        return sealed(fields.join(","));
      }
      case 6:
        return sealed(`${this.#of(CODES)},${this.#stamp().seq},${this.#t_us},future`);
      case 7:
        return this.#of(["", "\r", "\r\r", "\0", "\0\0\0\0", " ", "*", "*0000", ",,,*0000"]);
      case 8: {
        // At the cap, and one byte over it: the good line with added fields.
        const body = good.slice(0, -5);
        const length = LINE_CAP_BYTES + this.#below(3) - 1;
        return sealed(`${body},,${"x".repeat(length - body.length - 7)}`);
      }
      case 9:
        return this.#of([`\r${good}`, `${good}\r`, `${good}\r\r`, good.replace("*", "\r*"), good.replace(",", ",\r")]);
      case 10:
        return sealed(`K,${this.#stamp().seq},${this.#t_us},${this.#below(1000)},${this.#of(["d", "u", "x"])}`);
      case 11:
        return sealed(`T,${this.#stamp().seq},${this.#t_us},${this.#foreign()}${this.#foreign()}`);
      case 12: {
        // Keys hammered and tags in quick succession, all in one moment: each of them is a good line.
        const code = this.#of(["K", "T"]);
        for (let line = this.#below(14); line >= 0; line--) {
          const what = code === "T" ? `tag-${this.#below(3)}` : `${1 + this.#below(3)},${this.#of(["d", "u"])}`;
          this.#burst.unshift(sealed(`${code},${this.#stamp().seq},${this.#t_us},${what}`));
        }
        return good;
      }
      case 13:
        return sealed(`R,${this.#below(65_536)},${this.#state},${12_000 + this.#below(9)}`);
      case 14:
        return sealed(
          `X,${this.#stamp().seq},${this.#t_us},${this.#of(["amplifier-silent", "brownout", "overrun", "fire"])}`,
        );
      case 15:
        if (this.#below(50) > 0) return good;
        return sealed(
          `H,${this.#stamp().seq},${this.#t_us},tm1,bad/1,${this.#of(["press-left", "stranger"])},hx711,` +
            `${this.#of([10, 80, 65_535])},${this.#of([64, 128, 0])},${this.#of(["0bad", "5e21", "zzzz"])}`,
        );
      default:
        return good;
    }
  }

  /** Any byte but the one that ends a line. */
  #foreign(): string {
    const byte = this.#below(255);
    return String.fromCharCode(byte < 10 ? byte : byte + 1);
  }
}
