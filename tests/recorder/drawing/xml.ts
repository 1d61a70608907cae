/**
 * A small strict reader of XML as drawings use it: elements, attributes in double quotes, text, the five named references.
 * Throws on what is not well-formed (Extensible Markup Language 1.0, fifth edition: 2.1, 2.4, 3.1, 4.6).
 */
export interface Element {
  readonly name: string;
  readonly attributes: Readonly<Record<string, string>>;
  readonly children: readonly Element[];
  /** Of the element itself, references resolved. */
  readonly text: string;
}

const NAME = "[A-Za-z][A-Za-z0-9-]*";
const TAG = new RegExp(`<(?:/(${NAME})\\s*|(${NAME})((?:\\s+${NAME}="[^"<]*")*)\\s*(/?))>`, "y");
const ATTRIBUTE = new RegExp(`\\s+(${NAME})="([^"<]*)"`, "g");
const REFERENCES: Readonly<Record<string, string>> = { amp: "&", lt: "<", gt: ">", quot: '"', "#39": "'" };

interface Open {
  readonly name: string;
  readonly attributes: Readonly<Record<string, string>>;
  readonly children: Element[];
  text: string;
}

export function parseXml(source: string): Element {
  const open: Open[] = [];
  let root: Element | null = null;
  let at = 0;
  const close = (element: Open): void => {
    const parent = open.at(-1);
    if (parent !== undefined) parent.children.push(element);
    else root = element;
  };
  while (at < source.length) {
    const next = source.indexOf("<", at);
    const text = source.slice(at, next === -1 ? source.length : next);
    if (open.length === 0 && text.trim() !== "") throw new Error(`text outside of the root: ${text.slice(0, 40)}`);
    if (open.length > 0) open.at(-1)!.text += resolved(text);
    if (next === -1) break;
    TAG.lastIndex = next;
    const tag = TAG.exec(source);
    if (tag === null) throw new Error(`no tag at ${source.slice(next, next + 60)}`);
    const [whole, ended, begun, written = "", empty] = tag;
    if (root !== null) throw new Error("more than one root");
    at = next + whole.length;
    if (begun !== undefined) {
      const element: Open = { name: begun, attributes: attributesOf(written), children: [], text: "" };
      if (empty === "/") close(element);
      else open.push(element);
      continue;
    }
    const element = open.pop();
    if (element?.name !== ended) throw new Error(`</${ended}> closes <${element?.name}>`);
    close(element!);
  }
  if (root === null || open.length > 0) throw new Error("not closed");
  return root;
}

function attributesOf(written: string): Record<string, string> {
  const attributes: Record<string, string> = {};
  for (const [, name, value] of written.matchAll(ATTRIBUTE)) {
    if (Object.hasOwn(attributes, name!)) throw new Error(`${name} stands twice`);
    attributes[name!] = resolved(value!);
  }
  return attributes;
}

function resolved(text: string): string {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: these are what XML forbids (2.2).
  if (/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/.test(text)) throw new Error("a forbidden character");
  return text.replaceAll(/&([^;\s]*);?/g, (whole, name: string) => {
    const character = whole.endsWith(";") ? REFERENCES[name] : undefined;
    if (character === undefined) throw new Error(`${whole} is no reference`);
    return character;
  });
}

export function* every(element: Element): Generator<Element> {
  yield element;
  for (const child of element.children) yield* every(child);
}

export const named = (root: Element, name: string): Element[] => [...every(root)].filter((each) => each.name === name);
export const classed = (root: Element, name: string): Element[] =>
  [...every(root)].filter(({ attributes }) => attributes["class"] === name);
export const number = ({ attributes }: Element, name: string): number => Number(attributes[name]);
