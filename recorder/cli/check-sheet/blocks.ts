/** A sheet as a row of plain blocks, so that paper and terminal say the same. Every text in it is unescaped. */
import type { SheetPart } from "./sheet.ts";

export type Block =
  | { readonly is: "title" | "heading"; readonly text: string }
  /** `strong`: what a reader in a hurry should see. */
  | { readonly is: "sentence"; readonly text: string; readonly strong?: true }
  | { readonly is: "list"; readonly items: readonly string[] }
  /** Names and values. */
  | { readonly is: "facts"; readonly rows: readonly (readonly [string, string])[] }
  | {
      readonly is: "table";
      readonly head: readonly string[];
      readonly rows: readonly (readonly string[])[];
      /** Columns of numbers. */
      readonly right: readonly number[];
    }
  /** On paper only. */
  | { readonly is: "plot"; readonly part: SheetPart }
  | { readonly is: "signature" };

export const heading = (text: string): Block => ({ is: "heading", text });
export const sentence = (text: string): Block => ({ is: "sentence", text });
export const strong = (text: string): Block => ({ is: "sentence", text, strong: true });
