import fc from "fast-check";
import { expect, test } from "vitest";
import { isSignal, type StationEffect } from "../../../recorder/station/exchange.ts";
import { inOrder } from "../../../recorder/station/order.ts";

const publish = (topic: "live" | "state" | "effort"): StationEffect => ({ do: "publish", topic, body: {} });
const write = (text: string): StationEffect => ({ do: "write", text });
const log = (text: string): StationEffect => ({ do: "log", level: "info", text });

test("lamps in one writing, then state, then the other signals, then what is kept, each as they came", () => {
  const effects = [
    publish("effort"),
    write("L,1,2,on\n"),
    log("one"),
    publish("live"),
    write("L,2,1,off\n"),
    log("two"),
    publish("state"),
  ];
  expect(inOrder(effects)).toEqual([
    write("L,1,2,on\nL,2,1,off\n"),
    publish("state"),
    publish("effort"),
    publish("live"),
    log("one"),
    log("two"),
  ]);
});

test("nothing is lost, doubled or turned round, and one order is its own order", () => {
  const effect = fc.oneof(
    fc.constantFrom("a", "b", "c").map(write),
    fc.constantFrom("live" as const, "state" as const, "effort" as const).map(publish),
    fc.string().map(log),
  );
  fc.assert(
    fc.property(fc.array(effect, { maxLength: 12 }), (effects) => {
      Object.freeze(effects);
      const ordered = inOrder(effects);
      expect(inOrder(ordered)).toEqual(ordered);
      const texts = (of: readonly StationEffect[]): string =>
        of.map((one) => (one.do === "write" ? one.text : "")).join("");
      expect(texts(ordered)).toBe(texts(effects));
      for (const kind of [isSignal, (one: StationEffect) => !isSignal(one)]) {
        const rest = (of: readonly StationEffect[]) =>
          of.filter((one) => kind(one) && one.do !== "write" && !(one.do === "publish" && one.topic === "state"));
        expect(rest(ordered)).toEqual(rest(effects));
      }
      const kept = ordered.findIndex((one) => !isSignal(one));
      expect(ordered.slice(kept < 0 ? ordered.length : kept).every((one) => !isSignal(one))).toBe(true);
    }),
  );
});
