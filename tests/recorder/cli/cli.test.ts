import { writeFileSync } from "node:fs";
import { createServer, type Server } from "node:net";
import { join } from "node:path";
import { afterAll, afterEach, beforeAll, describe, expect, onTestFinished, test, vi } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { done, refused } from "../../../protocol/requests/response.ts";
import { COMMANDS } from "../../../recorder/cli/commands.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { SET, SET_ID, TAG } from "../control/fake-gym.ts";
import { inventedSet, toKeep, uuidOf } from "../store/invented.ts";
import { storePath } from "../store/store-path.ts";
import { cli } from "./fake-terminal.ts";
import { type Running, running } from "./running.ts";

const BEGUN = {
  set_id: SET_ID,
  station: "row",
  trainee: "T-07",
  side: "left",
  exercise: "row",
  style: "hold",
  intent: "maximal",
  fatigue_threshold: 0.2,
  warm_up: true,
  options: SET.options,
  warnings: ["no record here yet: the threshold is the smaller of the station's and 20 %"],
};

let here: Running;
beforeAll(async () => {
  here = await running({
    answer: async ({ request, station }) => {
      if (request.verb === "begin") return done(BEGUN);
      if (request.verb === "zero") return done({ zero_shift_N: -1.24, zero_counts: 84_100 });
      if (request.verb === "resting")
        return refused("not-still", "The sensor is not still.", "Let the limb hang and ask again.");
      if (request.verb === "end") return done({ set_id: SET_ID, is_set: station === "row", stop_reason: "on-request" });
      return done({ set_id: SET_ID });
    },
  });
});
afterAll(() => here.stop());
afterEach(() => {
  here.gym.asked.length = 0;
  here.gym.queried.length = 0;
});
const ask = (...words: string[]) => cli(...words, "--socket", here.socket);
const service = (...words: string[]) => cli(...words, "--socket", here.service_socket);

describe("wrong usage is said in one sentence, exit 2", () => {
  test.each<[string[], string]>([
    [[], "say what to do: `tidemark --help` lists the commands"],
    [["begn"], "there is no command begn: did you mean `tidemark begin`?"],
    [["constructor"], "there is no command constructor: `tidemark --help` lists them"],
    [["begin"], "STATION is missing, as in: tidemark begin leg-press --trainee T-07 --style hold --loss 40"],
    [["end", "row", "now"], "there is nothing to do with now, as in: tidemark end leg-press --because pain"],
    [
      ["begin", "row", "--los", "40"],
      "there is no flag --los, did you mean --loss? (`tidemark begin --help` says what it takes)",
    ],
    [["begin", "row", "--xyzzy"], "there is no flag --xyzzy (`tidemark begin --help` says what it takes)"],
    [["begin", "row", "-x"], "there is no flag --x (`tidemark begin --help` says what it takes)"],
    [
      ["begin", "row", "--trainee"],
      "--trainee needs CODE; one that begins with - is written --trainee=-1 (`tidemark begin --help` says what it takes)",
    ],
    [
      ["begin", "row", "--grace-s", "-5"],
      "--grace-s needs S; one that begins with - is written --grace-s=-1 (`tidemark begin --help` says what it takes)",
    ],
    [["begin", "row", "--warm-up=yes"], "--warm-up stands alone (`tidemark begin --help` says what it takes)"],
    [["begin", "row", "--loss", "0.4"], "--loss takes whole percent from 10 to 75, not 0.4"],
    [["begin", "row", "--loss", "9"], "--loss takes whole percent from 10 to 75, not 9"],
    [["begin", "row", "--loss", "76"], "--loss takes whole percent from 10 to 75, not 76"],
    [["begin", "row", "--loss", "4e1"], "--loss takes whole percent from 10 to 75, not 4e1"],
    [["begin", "row", "--grace-s", "soon"], "--grace-s takes a number, not soon"],
    [["begin", "row", "--grace-s", "5.1"], "--grace-s must be at most 5"],
    [["begin", "row", "--side", "middle"], "--side must be left, right or both"],
    [["begin", "Row"], "STATION must be 1 to 40 of a-z, 0-9 and -"],
    [["show", "7"], "SET_ID takes a set's id, or its first eight characters or more"],
    [["amend", "7", "--void"], "SET_ID takes a set's id, or its first eight characters or more"],
    [["trend"], "STATION and TRAINEE are missing, as in: tidemark trend leg-press T-07 --side left --svg trend.svg"],
    [["amend", SET_ID], "give at least one of trainee, side, warm_up, void, pain, exertion, note"],
    [["amend", SET_ID, "--pain", "11"], "--pain must be at most 10"],
    [["amend", SET_ID, "--void", "--not-void"], "--void and --not-void cannot both be meant"],
    [["amend", SET_ID, "--clear", "void"], "--clear takes some of trainee,side,pain,exertion,note, not void"],
    [["amend", SET_ID, "--pain", "3", "--clear", "pain"], "--pain and --clear pain cannot both be meant"],
    [["tags", "--link", "band-0142"], "--link and --trainee go together"],
    [["tags", "--trainee", "T-07"], "--link and --trainee go together"],
    [["tags", "--link", "a", "--trainee", "T-07", "--unlink", "b"], "link one tag or unlink one, not both at once"],
    [["tags", "--unlink", "a b"], "--unlink must be 1 to 32 of A-Z, a-z, 0-9, ., _, / and -"],
    [["tags", "--performed-by", "P-01"], "--performed-by goes with --link or --unlink"],
    [["sets", "--from", "yesterday"], "--from must be a time such as 2026-11-24T18:00:00Z"],
    [["sets", "--limit", "1.5"], "--limit must be a whole number"],
    [
      ["calibrate", "row", "--step", "toString"],
      "--step takes one of begin, zero, load, check, accept, abandon, in this order but for check and abandon",
    ],
    [["calibrate", "row", "--step", "zero", "--mass-kg", "20"], "--step zero does not take --mass-kg"],
    [["calibrate", "row", "--step", "load"], "give the load once, as mass_kg or as force_N"],
    [["replay", SET_ID, "--loss", "5"], "--loss takes whole percent from 10 to 75, not 5"],
    [["run", "--once"], "--once is for a simulated gym: add --simulate"],
    [["run", "--simulate", "--config", "x"], "--simulate brings its own configuration: leave out --config"],
  ])("%j", async (words, sentence) => {
    expect(await cli(...words)).toEqual({ exit: 2, out: "", error: sentence });
    expect(here.gym.asked).toEqual([]);
  });
});

describe("help", () => {
  test("lists every command", async () => {
    const { exit, out } = await cli("--help");
    expect(exit).toBe(0);
    for (const name of Object.keys(COMMANDS)) expect(out).toMatch(new RegExp(`^  ${name} +\\S`, "m"));
  });

  test.each(Object.keys(COMMANDS))("%s: what it is for, and one example of itself", async (name) => {
    const { exit, out, error } = await cli(name, "--help");
    expect([exit, error]).toEqual([0, ""]);
    expect(out.replaceAll("\n", " ")).toContain(COMMANDS[name]!.summary);
    expect(out.match(/^Example: .*$/gm)).toEqual([expect.stringMatching(new RegExp(`^Example: tidemark ${name}\\b`))]);
  });

  test("every example is good usage", async () => {
    const examples = await Promise.all(
      Object.entries(COMMANDS)
        .filter(([name]) => !["run", "watch", "asyncapi", "replay", "serial-ports"].includes(name))
        .map(async ([, { load }]) => {
          const { example, flags } = (await load()).command;
          // Nobody is there to be asked back, and no drawing may stay behind.
          const words = example.split(" ").map((word) => (word.endsWith(".svg") ? "-" : word));
          return [...words.slice(1), ...(Object.hasOwn(flags, "yes") ? ["--yes"] : [])];
        }),
    );
    for (const words of examples) expect((await service(...words)).exit, words.join(" ")).not.toBe(2);
  });

  test("in full, for one", async () => {
    expect((await cli("end", "--help")).out).toBe(`tidemark end STATION ...: end a set, or disarm

  --because done|pain|technique|equipment|mistake
                             why it is ended
  --performed-by CODE        who asks: a code, stored
  --json                     the answer as JSON, for scripts
  --config FILE              the configuration, else
                             /etc/tidemark/tidemark.toml
  --socket PATH              the recorder's control socket, else the configured
                             one
  --help                     say how this command is used
  --debug                    where something breaks, say where in the program

Example: tidemark end leg-press --because pain`);
  });

  test("of every command fits a terminal of 80 columns", async () => {
    for (const name of Object.keys(COMMANDS)) {
      const { out } = await cli(name, "--help");
      // An example is there to be copied, and stays whole.
      const wide = out.split("\n").filter((line) => line.length > 80 && !line.startsWith("Example: "));
      expect(wide, name).toEqual([]);
    }
  });
});

describe("acting", () => {
  test("begin: flags become the request, the answer one line and its warnings", async () => {
    const ran = await ask(
      ...["begin", "row", "--trainee", "T-07", "--side", "left", "--style", "hold", "--loss", "35", "--warm-up"],
      ...["--grace-s", "1.5", "--tested-best-force-N", "900", "--best-from", "today", "--performed-by", "P-01"],
    );
    expect(ran).toEqual({
      exit: 0,
      error: "",
      out:
        `row is armed: T-07, left, row, hold, warm-up, stop at 20 % loss; set ${SET_ID}\n` +
        "  mind: no record here yet: the threshold is the smaller of the station's and 20 %",
    });
    expect(here.gym.asked[0]?.request.args).toEqual({
      station: "row",
      trainee: "T-07",
      side: "left",
      style: "hold",
      // 35 x 0.01 is another number in binary.
      fatigue_threshold: 0.35,
      warm_up: true,
      options: { grace_s: 1.5, tested_best_force_N: 900, best_from: "today" },
      performed_by: "P-01",
    });
  });

  test("what is left out is left to the plan and the station", async () => {
    await ask("begin", "row");
    expect(here.gym.asked[0]?.request.args).toEqual({ station: "row" });
  });

  test.each<[string[], string]>([
    [["end", "row"], `the set is over (on-request); it is being kept: ${SET_ID}`],
    [["end", "leg-press"], "disarmed: no set was begun, so none is kept"],
    [["zero", "row", "--confirm"], "zeroed: -1.2 N from the calibrated zero"],
  ])("%j", async (words, text) => {
    expect(await ask(...words)).toEqual({ exit: 0, out: text, error: "" });
  });

  test("--json is the result as it came, on one line", async () => {
    const { out } = await ask("begin", "row", "--json");
    expect(out).toBe(JSON.stringify(BEGUN));
  });

  test("a refusal is one sentence with what would do, exit 1", async () => {
    expect(await ask("resting", "row")).toEqual({
      exit: 1,
      out: "",
      error: "The sensor is not still. Let the limb hang and ask again.",
    });
  });

  test("a refusal under --json is JSON too", async () => {
    const { exit, out } = await ask("resting", "row", "--json");
    expect([exit, JSON.parse(out)]).toEqual([
      1,
      { error: { code: "not-still", message: "The sensor is not still.", hint: "Let the limb hang and ask again." } },
    ]);
  });

  test("an unknown station: the nearest, and all there are", async () => {
    expect((await ask("zero", "rwo")).error).toBe(
      "There is no station rwo here. Did you mean row? There are: leg-press, row.",
    );
  });

  test("calibration steps go to the service socket only", async () => {
    const words = ["calibrate", "row", "--step", "load", "--mass-kg", "20", "--tolerance-percent", "0.5"];
    expect((await ask(...words)).error).toBe(
      "This door does not take service verbs, and `calibrate --step load` is one. Service verbs go to the service socket.",
    );
    const { exit, out } = await service(...words, "--lever-angle-deg=-5");
    const NEXT = "the same load from above: load --loading decreasing; or another load: check";
    expect([exit, out]).toEqual([0, `load: done\n  set id ${SET_ID}\n  next: ${NEXT}`]);
    expect(here.gym.asked.map(({ request }) => request)).toEqual([
      {
        verb: "calibration-load",
        args: { station: "row", mass_kg: 20, relative_tolerance: 0.005, lever_angle_deg: -5 },
      },
    ]);
  });
});

describe("the record", () => {
  test("sets, as a table", async () => {
    expect((await ask("sets")).out).toBe(
      "started              station    trainee  side  style         best  loss    of  efforts    time  ended by            set\n" +
        `2026-11-24 17:03:12  leg-press  T-07     left  rest-pause  1034 N  42 %  40 %        2  28.5 s  effort-below-floor  ${SET_ID}`,
    );
    expect(here.gym.queried).toEqual([{ limit: 20 }]);
  });

  test("sets, chosen", async () => {
    await ask(
      "sets",
      "--trainee",
      "T-07",
      "--station",
      "row",
      "--from",
      "2026-11-01",
      "--to",
      "2026-11-24",
      "--limit",
      "5",
    );
    expect(here.gym.queried).toEqual([
      {
        station: "row",
        trainee: "T-07",
        limit: 5,
        from: "2026-11-01T00:00:00.000Z",
        to: "2026-11-25T00:00:00.000Z",
      },
    ]);
  });

  test("sets say what was amended", async () => {
    const note = "seat 4, the left knee complained on the way up";
    const set = { ...SET, void: true, pain: 3, note, revision: 2 };
    const other = await running({
      record: { sets: async () => ({ store: SET.store, first_set_seq: 1, last_set_seq: 1, more: false, sets: [set] }) },
    });
    const { out } = await cli("sets", "--socket", other.socket);
    await other.stop();
    expect(out).toContain(
      "effort-below-floor, void, pain 3, note: seat 4, the left knee complained on the..., revision 2",
    );
  });

  test("amend says what the set is now", async () => {
    const { exit, out } = await ask("amend", SET_ID, "--pain", "3", "--void", "--clear", "side,note");
    expect(exit).toBe(0);
    expect(out).toBe(`${SET_ID} is at revision 1 now:
  trainee     T-07
  side        -
  warm up     no
  void        yes
  pain        3
  exertion    -
  note        -
  set of day  2`);
  });

  test("amend takes the beginning of an id", async () => {
    const other = await running({
      record: { sets: async () => ({ store: SET.store, first_set_seq: 1, last_set_seq: 1, more: false, sets: [SET] }) },
    });
    const { exit, out } = await cli("amend", SET_ID.slice(0, 8), "--void", "--socket", other.socket);
    await other.stop();
    expect([exit, out.split("\n")[0]]).toEqual([0, `${SET_ID} is at revision 1 now:`]);
  });

  test("amend takes back, says who, and says where nothing was to do", async () => {
    const args: unknown[] = [];
    const other = await running();
    const amend = async (asked: object) => {
      args.push(asked);
      return done({ set: SET, amended: false });
    };
    Object.assign(other.gym.records, { amend });
    const words = ["--not-void", "--not-warm-up", "--note", "seat 4", "--performed-by", "P-01"];
    const { out } = await cli("amend", SET_ID, ...words, "--socket", other.socket);
    await other.stop();
    expect(out).toBe(`it was so already: ${SET_ID} stays at revision 1`);
    expect(args).toEqual([{ set_id: SET_ID, void: false, warm_up: false, note: "seat 4", performed_by: "P-01" }]);
  });

  test("tags, as a table, linked and unlinked", async () => {
    expect((await ask("tags")).out).toBe(
      "tag        trainee  linked               by\nband-0142  T-07     2026-11-01 08:00:00  P-01",
    );
    expect(JSON.parse((await ask("tags", "--json")).out)).toEqual({ tags: [TAG] });
    expect((await ask("tags", "--link", "04/A2", "--trainee", "T-07")).out).toBe("04/A2 stands for T-07 now");
    expect((await ask("tags", "--unlink", "04/A2", "--performed-by", "P-01")).out).toBe(
      "04/A2 is linked to nobody now and stands for its own code",
    );
    const empty = await running({ record: { tags: async () => [] } });
    const { out } = await cli("tags", "--socket", empty.socket);
    await empty.stop();
    expect(out).toBe("no tag is linked: each stands for the trainee of its own code");
  });

  test("sets --json is the page", async () => {
    expect(JSON.parse((await ask("sets", "--json")).out)).toMatchObject({
      last_set_seq: 12,
      sets: [{ set_id: SET_ID }],
    });
  });

  test("more sets than one answer holds are asked for until there are as many as were wanted", async () => {
    const tables = openTables(storePath());
    const note = "\u00e9".repeat(50_000);
    for (let number = 1; number <= 12; number++) tables.methods.keep(toKeep(inventedSet(number, { note })));
    const other = await running({ record: { sets: async (query) => tables.methods.sets(query) } });
    const numbers = async (...words: string[]): Promise<unknown> => {
      const { sets, ...page } = JSON.parse((await cli("sets", "--json", "--socket", other.socket, ...words)).out);
      return [sets.map(({ set_seq }: SetMessage) => set_seq), page];
    };
    const page = { store: tables.store_id, first_set_seq: 1, last_set_seq: 12 };
    expect(await numbers()).toEqual([[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12], { ...page, more: false }]);
    expect(await numbers("--limit", "9")).toEqual([[4, 5, 6, 7, 8, 9, 10, 11, 12], { ...page, more: true }]);
    expect(await numbers("--limit", "3")).toEqual([[10, 11, 12], { ...page, more: true }]);
    const table = (await cli("sets", "--socket", other.socket, "--limit", "500")).out.split("\n");
    expect(table.slice(1).map((line) => line.slice(-36))).toEqual(
      Array.from({ length: 12 }, (_, index) => uuidOf(index + 1)),
    );
    await other.stop();
    tables.methods.close();
  });

  test("one set, every field in its order", async () => {
    const { out } = await ask("show", SET_ID);
    expect(out.slice(out.indexOf("set id"))).toBe(`set id                  ${SET_ID}
store                   5f0c5e2e-0000-4000-8000-0000000000aa
set seq                 12
revision                1
station                 leg-press
exercise                leg-press
exercise label          Leg press
trainee                 T-07
side                    left
style                   rest-pause
intent                  maximal
warm up                 no
set of day              2
rested                  312.4 s
fatigue threshold       40.0 %
options:
  grace                   1.0 s
  rest limit              40.0 s
  time limit              900.0 s
  effort limit            -
  below floor to stop     1
  onset force             50.0 N
  efforts per cluster     2
  tested best force       -
  best from               set
  ceiling force           -
tested best force       -
started                 2026-11-24 17:03:12
duration                28.5 s
time under tension      9.8 s
stop reason             effort-below-floor
ended because           -
reached threshold       yes
cut short               no
best force              1034.3 N
today best force        1050.0 N
floor force             620.5 N
final force             601.2 N
force loss              41.9 %
force loss today        42.7 %
force loss uncertainty  1.2 %
impulse                 7800 N s
mean force              273.6 N
mean effort force       800.0 N
decline per s           1.47 % of best
decline per effort      20.94 % of best
concentric best force   -
eccentric best force    -
decided by              any
efforts: 3
      start   time      peak  valley before     mean   impulse    floor  action
  1   0.0 s  4.3 s  1034.3 N              -  850.0 N  3613 N s        -  -
  2  12.0 s  0.4 s   210.0 N          3.2 N  120.0 N    48 N s  620.5 N  concentric  a touch, brief
  3  22.9 s  5.5 s   601.2 N          2.9 N  761.4 N  4188 N s  620.5 N  -           below floor
resting force           -
resting subtracted      no
calibration id          5f0c5e2e-0000-4000-8000-0000000000cc
expanded uncertainty    8.4 N
zero shift              -
quality:
  readings                2281
  readings lost           0
  lines rejected          1
  despiked                2
  saturated               0
  reading rate            80.0 Hz
  noise                   0.620 N
  best unconfirmed        yes
  warming up              no
engine                  1
void                    no
pain                    -
exertion                -
note                    -`);
  });

  test("a set that is not kept", async () => {
    const other = SET_ID.replace(/1$/, "2");
    expect(await ask("show", other)).toEqual({
      exit: 1,
      out: "",
      error: `No set ${other} is kept here. \`sets\` lists those that are.`,
    });
  });

  test("calibrations, and which is in force", async () => {
    vi.useFakeTimers({ toFake: ["Date"], now: new Date("2026-11-24T18:00:00Z") });
    onTestFinished(() => void vi.useRealTimers());
    expect((await ask("calibrations", "leg-press")).out).toBe(
      "          taken             counts/N  U (k = 2)  due         by    id\n" +
        "in force  2026-10-01 08:00   812.346     12.5 N  2027-10-01  P-01  5f0c5e2e\n\n" +
        "checked           record    loads   worst   zero  due  by    id\n" +
        "2026-11-01 08:00  5f0c5e2e      1  0.25 %  0.4 N  -    P-01  5f0c5e2e\n\n" +
        "The calibration in force is due on 2027-10-01.",
    );
  });
});

describe("little or nothing to say", () => {
  let empty: Running;
  beforeAll(async () => {
    const bare = { ...SET, simulated: true, efforts: [], trainee: null, side: null, warm_up: true, void: true };
    empty = await running({
      record: {
        sets: async ({ trainee }) => ({
          store: SET.store,
          first_set_seq: null,
          last_set_seq: null,
          more: false,
          sets: trainee === "T-01" ? [] : [bare],
        }),
        set: async () => ({ message: bare, log: { arm: null, at_us: [], counts: [], events: [] } }),
        calibrations: async () => [],
        calibrationInForce: async () => null,
        calibrationDue: async () => null,
        checks: async () => [],
        putInForce: async () => [],
      },
      answer: async ({ request }) =>
        done(
          request.verb === "begin"
            ? {
                ...BEGUN,
                trainee: null,
                side: null,
                intent: "held",
                warm_up: false,
                fatigue_threshold: null,
                warnings: [],
              }
            : { resting_force_N: 12.34 },
        ),
    });
  });
  afterAll(() => empty.stop());

  test.each<[string[], string]>([
    [["sets", "--trainee", "T-01"], "no set is kept yet that fits"],
    [["calibrations", "row"], "no calibration is kept for this station"],
    [["begin", "row"], `row is armed: nobody named, row, hold, held, no threshold; set ${SET_ID}`],
    [["resting", "row"], "resting force 12.3 N"],
  ])("%j", async (words, text) => {
    expect(await cli(...words, "--socket", empty.socket)).toEqual({ exit: 0, out: text, error: "" });
  });

  test("a set without efforts, of nobody, in a simulated gym", async () => {
    const { out } = await cli("show", SET_ID, "--socket", empty.socket);
    expect(out).toMatch(/^simulated: nobody trained, this is the program's own gym\n\nset id /m);
    expect(out).toMatch(/^efforts: 0\nresting force/m);
    expect((await cli("sets", "--socket", empty.socket)).out).toMatch(
      / {2}- +- +rest-pause .* effort-below-floor, warm-up, void, simulated {2}/,
    );
  });
});

test("the AsyncAPI document is printed", async () => {
  const { exit, out } = await cli("asyncapi");
  expect([exit, JSON.parse(out).asyncapi]).toEqual([0, expect.stringMatching(/^3\./)]);
});

describe("in a house of its own unit and time", () => {
  const configured = (head: string): string => {
    const file = join(here.directory, "tidemark.toml");
    writeFileSync(
      file,
      `${head}
site = "hall"
recorder = "box"
time_zone = "Europe/Lisbon"
display_unit = "kgf"
[store]
path = "x.db"
[broker]
url = "mqtts://broker.example"
password_file = "/nobody/may/read/this"
[control]
socket = "${here.socket}"
service_socket = "${here.service_socket}"
[[station]]
id = "row"
exercise = "row"
serial_port = "/dev/serial/by-id/one"
resistance = "driven"
cell_capacity_N = 5000
force_limit_N = 4000
working_force_N = 2500
latitude_deg = 52.0
`,
    );
    return file;
  };

  test("the configuration names sockets, unit and zone; its secrets are not needed to look", async () => {
    const file = configured("");
    const { out } = await cli("show", SET_ID, "--config", file);
    expect(out).toMatch(/^best force +105\.5 kgf$/m);
    expect((await cli("calibrate", "row", "--step", "begin", "--config", file)).exit).toBe(0);
    await cli("sets", "--from", "2026-07-01", "--config", file);
    expect(here.gym.queried).toEqual([{ limit: 20, from: "2026-06-30T23:00:00.000Z" }]);
  });

  test("one that is named must be good: every fault, exit 78", async () => {
    const file = configured('colour = "red"\nshape = "round"');
    for (const command of ["sets", "run"]) {
      const { exit, error } = await cli(command, "--config", file);
      expect(exit).toBe(78);
      expect(error.split("\n").slice(0, 3)).toEqual([
        `${file} is not a configuration to start with; correct this:`,
        "  colour is not a known key",
        "  shape is not a known key",
      ]);
    }
  });
});

describe("a recorder that cannot be asked", () => {
  let impostor: Server;
  const speaking = async (text: string | null): Promise<string> => {
    const path = join(here.directory, "impostor.sock");
    impostor = createServer((socket) => {
      socket.on("error", () => {});
      if (text === null) socket.destroy();
      else socket.once("data", () => socket.write(text));
    });
    await new Promise<void>((resolve) => impostor.listen(path, resolve));
    return path;
  };
  afterEach(() => impostor?.close());

  test("is not running", async () => {
    const path = join(here.directory, "none.sock");
    expect(await cli("sets", "--socket", path)).toEqual({
      exit: 1,
      out: "",
      error: `tidemark is not running here (no socket at ${path}): start it with \`tidemark run\``,
    });
  });

  test("left its socket behind", async () => {
    const path = join(here.directory, "plain-file");
    writeFileSync(path, "");
    expect((await cli("sets", "--socket", path)).error).toBe(
      `tidemark is not running here (nothing answers at ${path}): start it with \`tidemark run\``,
    );
  });

  test("hangs up", async () => {
    const { exit, error } = await cli("sets", "--socket", await speaking(null));
    expect([exit, error]).toEqual([
      1,
      expect.stringMatching(/^tidemark (hung up before it answered|cannot be reached)/),
    ]);
  });

  test.each(["hello\n", "[]\n", '{"neither":1}\n', "null\n"])("is something else that says %j", async (text) => {
    const path = await speaking(text);
    expect(await cli("sets", "--socket", path)).toEqual({
      exit: 1,
      out: "",
      error: `what answers at ${path} is not tidemark: check the socket's path`,
    });
  });

  test("is of a later version: its answer is shown as it came", async () => {
    const path = await speaking('{"request_id":null,"ok":true,"result":{"sets":"in another shape"}}\n');
    expect(await cli("sets", "--socket", path)).toEqual({ exit: 0, out: '{"sets":"in another shape"}', error: "" });
  });
});
