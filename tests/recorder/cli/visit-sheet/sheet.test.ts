/** The sheet of a visit from the command line: what stands on it, and that it needs nothing else. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, onTestFinished, test } from "vitest";
import { openTables } from "../../../../recorder/store/tables.ts";
import { SET } from "../../control/fake-gym.ts";
import { holdCurve, readyBench } from "../../station/bench.ts";
import { inventedSet, toKeep, uuidOf } from "../../store/invented.ts";
import { storePath } from "../../store/store-path.ts";
import { cli } from "../fake-terminal.ts";
import { running } from "../running.ts";

async function visit() {
  const tables = openTables(storePath());
  const bench = readyBench()
    .begin({ style: "hold", trainee: "T-07" })
    .pull(0.5, 0)
    .pull(30, holdCurve(1000, 8, 25));
  bench.ask("end");
  const { message, log } = bench.kept[0]!;
  const day = message.started_at.slice(0, 10);
  const note = `"<script>alert(1)</script>" & süß`;
  tables.methods.keep(toKeep({ ...message, note, simulated: true }, "", log));
  const started_at = `${day}T23:30:00.000Z`;
  tables.methods.keep(toKeep(inventedSet(9, { ...inventedSet(9), trainee: "T-07", started_at, efforts: SET.efforts })));
  const here = await running({
    record: {
      sets: async (query) => tables.methods.sets(query),
      set: async (id) => {
        if (id === uuidOf(9)) throw new Error("damaged");
        return tables.methods.set(id);
      },
    },
  });
  onTestFinished(async () => {
    await here.stop();
    tables.methods.close();
  });
  const file = join(here.directory, "visit.html");
  const ask = (...words: string[]) => cli("sets", ...words, "--socket", here.socket);
  return { day, file, ask };
}

test("one block a set, in order, with drawing, figures, stop, calibration and cautions, and nothing from elsewhere", async () => {
  const { day, file, ask } = await visit();
  const ran = await ask("--trainee", "T-07", "--day", day, "--sheet", file);
  expect(ran).toEqual({ exit: 0, out: `2 sets of T-07 on ${day} in ${file}`, error: "" });
  const html = readFileSync(file, "utf8");
  expect(html.match(/<section class="set">/g)).toHaveLength(2);
  expect(html.match(/<svg /g)).toHaveLength(2);
  expect(html).not.toMatch(/<script|<link|<img|@import|url\(|(?:href|src)="http/);
  expect(html).toContain("&lt;script&gt;alert(1)&lt;/script&gt;&quot; &amp; süß");
  expect(html).toContain("Simulated: nobody trained.");
  expect(html).toContain("its readings cannot be read any more, so only its figures are drawn");
  expect(html).toMatch(/<dt>sensor calibrated<\/dt><dd>\d{4}-\d{2}-\d{2}<\/dd>/);
  expect(html).toContain("<dt>ended by</dt>");
  expect(html).toContain("a training rule and not a safety limit");
  const terms = [...html.matchAll(/<dt>([^<]*)<\/dt>/g)].map(([, term]) => term);
  const order = ["fatigue threshold", "duration", "ended by", "best force", "force loss", "impulse"];
  expect(order.map((term) => terms.indexOf(term))).toEqual(
    order.map((term) => terms.indexOf(term)).sort((a, b) => a - b),
  );
  expect(terms).toEqual(expect.arrayContaining(order));
});

test("a file that is there is left alone, and an empty day has no sheet", async () => {
  const { day, file, ask } = await visit();
  await ask("--trainee", "T-07", "--day", day, "--sheet", file);
  const again = await ask("--trainee", "T-07", "--day", day, "--sheet", file);
  expect([again.exit, again.error]).toEqual([1, `${file} was not written, it is there already: name another file`]);
  const none = await ask("--trainee", "T-07", "--day", "1999-12-31", "--sheet", `${file}.2`);
  expect([none.exit, none.error]).toEqual([1, "no set of T-07 on 1999-12-31 is kept that fits, so there is no sheet"]);
});

test.each<[string[], string]>([
  [["--sheet", "x.html"], "--sheet is of one person: give --trainee"],
  [
    ["--sheet", "x.html", "--trainee", "T-07", "--from", "2026-11-01"],
    "--sheet is of a whole day, so --from has no place: give --day",
  ],
  [["--sheet", "x.html", "--json"], "--json and --sheet are asked one at a time"],
])("%j is wrong usage", async (words, error) => {
  expect(await cli("sets", ...words)).toEqual({ exit: 2, out: "", error });
});
