/** What a station cannot see for want of a better line, one sentence part each; for people. Empty for `tm1`. */
import { BARE_CANNOT_DETECT } from "../../protocol/serial-line/bare.ts";
import type { Station } from "./state.ts";

const NOTHING: readonly string[] = Object.freeze([]);

export const limitsOf = ({ configuration }: Station): readonly string[] =>
  configuration.dialect === "bare" ? BARE_CANNOT_DETECT : NOTHING;
