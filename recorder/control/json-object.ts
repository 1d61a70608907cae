/**
 * Bytes from a stranger as a JSON object, RFC 8259. Of a name that comes twice the last value counts, and a byte order
 * mark is ignored, as its sections 4 and 8.1 allow. Nothing throws.
 */
export type ReadObject =
  | { readonly ok: true; readonly value: Readonly<Record<string, unknown>> }
  | { readonly ok: false; readonly why: "not-json" | "not-an-object" };

export function readObject(bytes: Uint8Array): ReadObject {
  let value: unknown;
  try {
    value = JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(bytes));
  } catch {
    return { ok: false, why: "not-json" };
  }
  if (typeof value !== "object" || value === null || Array.isArray(value)) return { ok: false, why: "not-an-object" };
  return { ok: true, value: value as Readonly<Record<string, unknown>> };
}
