/** RFC 4180 (Common Format and MIME Type for CSV Files, October 2005), section 2, rule by rule [from memory]. */
import Papa from "papaparse";
import { describe, expect, it } from "vitest";
import { type Cell, csvRecord, DECIMAL_COMMA, RFC_4180 } from "../../../../recorder/cli/csv/record.ts";

const line = (...cells: Cell[]): string => csvRecord(cells, RFC_4180);
const comma = (...cells: Cell[]): string => csvRecord(cells, DECIMAL_COMMA);

describe("RFC 4180, section 2", () => {
  it("rules 1 and 2: each record is a line that ends in CR LF, the last one too", () => {
    expect(line("aaa", "bbb", "ccc") + line("zzz", "yyy", "xxx")).toBe("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n");
  });

  it("rule 4: fields are parted by commas, none follows the last, and spaces are part of a field", () => {
    expect(line("aaa", " bbb ", "")).toBe('aaa," bbb ",\r\n');
  });

  it("rules 5 and 6: fields with line breaks, quotes or commas are quoted", () => {
    expect(line("aaa", "b \r\nbb", "c,c", "d\ne", "f\rg")).toBe('aaa,"b \r\nbb","c,c","d\ne","f\rg"\r\n');
  });

  it("rule 7: a quote inside a field is doubled", () => {
    expect(line("aaa", 'b"bb', '"')).toBe('aaa,"b""bb",""""\r\n');
  });
});

describe("cells", () => {
  it("are numbers with points, or with commas where semicolons part them", () => {
    expect(line(0.5, -1234.25, 7, true, null)).toBe("0.5,-1234.25,7,true,\r\n");
    expect(comma(0.5, -1234.25, 7, false, null)).toBe("0,5;-1234,25;7;false;\r\n");
    expect(comma("a;b", "c,d", "süß 💪")).toBe('"a;b";"c,d";süß 💪\r\n');
  });

  it.each(["=1+1", "+cmd", "-x", "@sum", "\tx", "\rx", "＝1", "＋1", "－1", "＠x"])(
    "%j is no formula any more",
    (text) => {
      const [[cell]] = Papa.parse<string[]>(line(text)).data as [[string]];
      expect(cell).toBe(`'${text}`);
    },
  );

  it.each(["-5", "+3.5", "-0,5", "12", "a=b", "'quoted'", "x-1"])("%j stays as it is", (text) => {
    const [[cell]] = Papa.parse<string[]>(line(text)).data as [[string]];
    expect(cell).toBe(text);
  });

  it("an apostrophe taken off gives every text back", () => {
    const texts = ["=1", "'=1", "''-x", "'hello", "plain", "@a\r\nb", '+"a"'];
    const read = Papa.parse<string[]>(line(...texts)).data[0] ?? [];
    expect(read.map((text) => (/^'+[=+\-@\t\r]/.test(text) ? text.slice(1) : text))).toEqual(texts);
  });
});
