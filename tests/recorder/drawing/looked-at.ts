/** What holds of every drawing, looked at as a reader's eye would: what it needs, what lies on what, what grey paper leaves. */
import { expect } from "vitest";
import { classed, type Element, every, named, number, parseXml } from "./xml.ts";

/** Breadth of a letter of common sans-serif faces, as a share of the size; digits and capitals of DejaVu Sans have 0.64 and 0.68 at most, a line of text 0.55 or so. */
const LETTER = 0.55;

export interface Box {
  readonly text: string;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

/** Every line of text as a box, in the drawing's own px, shifts of groups included. */
export function boxesOf(root: Element): readonly Box[] {
  const boxes: Box[] = [];
  const walk = (element: Element, down: number): void => {
    const shift = /^translate\(0 ([\d.]+)\)$/.exec(element.attributes["transform"] ?? "");
    const here = down + Number(shift?.[1] ?? 0);
    if (element.name === "text") boxes.push(boxOf(element, here));
    for (const child of element.children) walk(child, here);
  };
  walk(root, 0);
  return boxes;
}

function boxOf(element: Element, down: number): Box {
  const { text, attributes } = element;
  const size = sizeOf(element);
  const width = text.length * size * LETTER;
  const x = number(element, "x");
  const left = { start: x, middle: x - width / 2, end: x - width }[attributes["text-anchor"] ?? "start"] ?? x;
  const baseline = number(element, "y") + down;
  return { text, left, right: left + width, top: baseline - 0.75 * size, bottom: baseline + 0.2 * size };
}

const sizeOf = ({ attributes }: Element): number => Number(attributes["font-size"] ?? 12);

/** Web Content Accessibility Guidelines 2.2, "relative luminance" and "contrast ratio"; from memory. */
function contrastWithWhite(colour: string): number {
  const level = Number.parseInt(colour.length === 4 ? colour[1]! + colour[1]! : colour.slice(1, 3), 16) / 255;
  const linear = level <= 0.04045 ? level / 12.92 : ((level + 0.055) / 1.055) ** 2.4;
  return 1.05 / (linear + 0.05);
}

/** Lines that only help the eye along, and areas behind others. */
const FAINT = new Set(["#ddd", "#e8e8e8", "#eee", "#aaa", "#fff"]);

export function expectReadable(svg: string): Element {
  const root = parseXml(svg);
  const { attributes } = root;
  expect(root.name).toBe("svg");
  expect(attributes["xmlns"]).toBe("http://www.w3.org/2000/svg");
  expect(["img", "group"]).toContain(attributes["role"]);
  const [, , width, height] = (attributes["viewBox"] ?? "").split(" ").map(Number);
  expect(width).toBe(800);
  expect(root.children[0]?.name).toBe("title");
  expect(root.children[0]?.text).not.toBe("");
  const images = [...every(root)].filter((each) => each.attributes["role"] === "img");
  expect(images.length).toBeGreaterThan(0);
  for (const image of images) expect(image.children.slice(0, 2).map(({ name }) => name)).toEqual(["title", "desc"]);

  for (const element of every(root)) {
    expect(["script", "style", "image", "use", "a", "foreignObject"]).not.toContain(element.name);
    for (const [name, value] of Object.entries(element.attributes)) {
      expect(name).not.toMatch(/^on|href|^style$|^id$/);
      if (name !== "xmlns") expect(value).not.toMatch(/url\(|:\/\//);
      if (name !== "class") expect(value).not.toMatch(/NaN|Infinity|undefined|null/);
    }
    for (const paint of ["fill", "stroke"]) expectGrey(element, paint);
  }

  const boxes = boxesOf(root);
  for (const element of named(root, "text")) expect(sizeOf(element)).toBeGreaterThanOrEqual(10);
  for (const box of boxes) {
    expect(box.left, box.text).toBeGreaterThanOrEqual(0);
    expect(box.right, box.text).toBeLessThanOrEqual(800);
    expect(box.bottom, box.text).toBeLessThanOrEqual(height!);
  }
  expect(overlapsOf(boxes)).toEqual([]);
  return root;
}

function expectGrey({ name, attributes }: Element, paint: string): void {
  const colour = attributes[paint];
  if (colour === undefined || colour === "none") return;
  expect(colour, "grey, so that a printer and any eye see the same").toMatch(/^#([0-9a-f])\1\1$|^#([0-9a-f]{2})\2\2$/);
  const least = name === "text" ? 4.5 : 3;
  if (name === "text" || !FAINT.has(colour)) expect(contrastWithWhite(colour), colour).toBeGreaterThanOrEqual(least);
}

function overlapsOf(boxes: readonly Box[]): readonly string[] {
  return boxes.flatMap((one, index) =>
    boxes
      .slice(index + 1)
      .filter(
        (other) => one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom,
      )
      .map((other) => `${one.text} | ${other.text}`),
  );
}

/** From px back to what the axis says: a line through its outermost ticks. */
export function scaleOf(ticks: readonly { readonly px: number; readonly value: number }[]): (px: number) => number {
  const first = ticks[0]!;
  const last = ticks.at(-1)!;
  const per_px = (last.value - first.value) / (last.px - first.px);
  return (px) => first.value + (px - first.px) * per_px;
}

/** Numbers left of a panel, and under it: its two scales, and how much one px is. */
export function scalesOf(root: Element, panel = 0) {
  const frame = named(root, "rect").filter((rect) => rect.attributes["fill"] === "none" && number(rect, "width") > 100)[
    panel
  ]!;
  const [left, top, width, height] = ["x", "y", "width", "height"].map((name) => number(frame, name)) as [
    number,
    number,
    number,
    number,
  ];
  const numbers = named(root, "text").filter(({ text }) => /^-?[\d.]+$/.test(text));
  const upright = numbers.filter(
    (tick) =>
      tick.attributes["text-anchor"] === "end" && number(tick, "y") >= top && number(tick, "y") <= top + height + 5,
  );
  const across = numbers.filter((tick) => Math.abs(number(tick, "y") - (top + height + 18)) < 1);
  const forces = upright.map((tick) => ({ px: number(tick, "y") - 4, value: Number(tick.text) }));
  const times = across.map((tick) => ({ px: number(tick, "x"), value: Number(tick.text) }));
  const force = scaleOf(forces);
  const time = times.length > 1 ? scaleOf(times) : () => Number.NaN;
  return {
    frame: { left, top, right: left + width, bottom: top + height },
    force,
    time,
    force_px: Math.abs(force(1) - force(0)),
    time_px: Math.abs(time(1) - time(0)),
  };
}

/** Last point of a path made of M, H, V and L with absolute coordinates. */
export function lastLevel(path: string): number {
  return Number(/.*[VM ]([\d.-]+)(?:H[\d.-]+)?$/.exec(path)?.[1]);
}

export const only = (root: Element, name: string): Element => {
  const found = classed(root, name);
  expect(found.length, name).toBe(1);
  return found[0]!;
};
