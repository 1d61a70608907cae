/**
 * One text for one value, whatever order its names came in: names in the order of their UTF-16 code units, numbers and
 * strings as ECMAScript writes them, RFC 8785 section 3.2.
 */
export const canonicalJson = (value: unknown): string => JSON.stringify(value, namesInOrder);

function namesInOrder(_name: string, value: unknown): unknown {
  if (typeof value !== "object" || value === null || Array.isArray(value)) return value;
  return Object.fromEntries(Object.entries(value).sort(([one], [other]) => (one < other ? -1 : 1)));
}
