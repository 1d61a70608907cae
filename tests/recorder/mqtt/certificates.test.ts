/** Validity of a certificate: RFC 5280 section 4.1.2.5. The text form of its end: Node.js, tls, certificate object. */
import { expect, test } from "vitest";
import { endInFile, endingSoon, endOf } from "../../../recorder/mqtt/certificates.ts";

const [END] = endOf("the broker", "Nov 25 02:00:00 2026 GMT");
const end = { whose: "the broker", at_ms: Date.UTC(2026, 10, 25, 2) };
const days = (count: number): number => end.at_ms - count * 86_400_000;

test("30 days before it ends and not a moment earlier, with the day and no countdown", () => {
  expect(END).toEqual(end);
  expect(endingSoon([end], days(30))).toBeNull();
  const told = endingSoon([end], days(30) + 1);
  expect(told?.sentence).toBe("The certificate of the broker ends on 2026-11-25: renew it before that day.");
  expect(endingSoon([end], days(2))).toEqual(told);
});

test("of two, the one that ends first", () => {
  const ours = { whose: "ours", at_ms: end.at_ms - 1 };
  expect(endingSoon([end, ours], days(3))?.sentence).toContain("of ours ");
  expect(endingSoon([], days(3))).toBeNull();
});

test("a text that is no date, and a file that is no certificate, are left to the connection to refuse", () => {
  expect(endOf("the broker", "")).toEqual([]);
  expect(endInFile("ours", Buffer.from("not a certificate"))).toEqual([]);
});
