/** Requests that are wrong in every way a client or a stranger gets wrong, from a seed; none of them may be carried out. */
import { VERBS, type Verb } from "../../../protocol/requests/verbs.ts";
import { numbers, uuidOf } from "../store/invented.ts";

export interface Hostile {
  readonly verb: string;
  readonly bytes: Buffer;
  /** Under which id it is answered; null: under none, its id cannot be read. Undefined: chance has it. */
  readonly request_id: string | null | undefined;
  /** What it may be answered with. */
  readonly codes: readonly string[];
}

const STATION = "knee-extension";
const NOWHERE = "zz-no-such-station-zz";

/** A good request of each verb, to be spoilt. */
const GOOD: Readonly<Record<Verb, object>> = {
  status: { station: STATION },
  sets: { station: STATION, limit: 3, from_set_seq: 1 },
  set: { set_id: uuidOf(77), curve: true },
  watch: { station: STATION },
  tags: {},
  calibrations: { station: STATION },
  begin: { station: STATION, trainee: "T-07", fatigue_threshold: 0.4, options: { grace_s: 1 } },
  end: { station: STATION, because: "pain" },
  zero: { station: STATION, confirm: true },
  resting: { station: STATION, performed_by: "P-01" },
  amend: { set_id: uuidOf(78), pain: 3 },
  plan: { station: STATION, trainee: "T-07" },
  trend: { station: STATION, trainee: "T-07", limit: 20 },
  "plan-save": { station: STATION, trainee: "T-07", fatigue_threshold: 0.35, setup: { seat: "4" } },
  "tag-save": { tag: "band-0142", trainee: "T-07" },
  "calibration-begin": { station: STATION },
  "calibration-zero": { station: STATION },
  "calibration-load": { station: STATION, mass_kg: 20 },
  "calibration-check": { station: STATION, mass_kg: 20, loading: "increasing", series: 1 },
  "calibration-accept": { station: STATION, note: "as found" },
  "calibration-abandon": { station: STATION },
  "calibration-use": { station: STATION, calibration_id: uuidOf(79) },
  backup: { path: "/var/backups/tidemark.db" },
  restore: { path: "/var/backups/tidemark.db" },
  erase: { trainee: "T-07", performed_by: "P-01" },
  export: { path: "/var/backups/record.jsonl", trainee: "T-07" },
  import: { calibration: { record_version: 1 }, performed_by: "P-01" },
  "self-test": { station: STATION, duration_s: 10, lamps: false },
  inspected: { station: STATION, performed_by: "P-01" },
};
/** Stands for brackets. */
const NEST = "a nest";
const DEEP = `{"a":${"[".repeat(20)}${"]".repeat(20)}}`;
const VERB_NAMES = Object.keys(VERBS) as Verb[];

export interface Frame {
  /** The bytes of a request as the door wants them. */
  readonly wrap: (verb: string, request_id: unknown, args: object) => object;
  /** Verbs that may be sent here. */
  readonly verbs?: (verb: Verb) => boolean;
  /** Said of a station that is not the one meant. */
  readonly elsewhere: string;
}

/** A source of them: each call one more, the same ones from the same seed. */
export function hostileRequests(seed: number, { wrap, verbs = () => true, elsewhere }: Frame): () => Hostile {
  const random = numbers(seed);
  const upTo = (below: number): number => Math.floor(random() * below);
  const one = <T>(of: readonly T[]): T => of[upTo(of.length)] as T;
  const names = VERB_NAMES.filter(verbs);
  let sent = 0;

  /** Good JSON under a good id, with something wrong in it. */
  const spoilt = (): { verb: string; args: object; codes: readonly string[] } => {
    const verb = one(names);
    const good = GOOD[verb];
    const fields = Object.keys(good);
    const bad = ["bad-request"];
    switch (upTo(8)) {
      case 0:
        return { verb, args: { ...good, [`field${upTo(99)}`]: one<unknown>([1, "x", null, {}, []]) }, codes: bad };
      case 1:
        return { verb, args: { ...good, ["__proto__"]: { station: STATION, is: "a prototype" } }, codes: bad };
      case 2:
        return { verb, args: { ...good, constructor: { prototype: {} } }, codes: bad };
      case 3: {
        if (fields.length === 0) return { verb, args: { nest: NEST }, codes: bad };
        const field = one(fields);
        const was = (good as Record<string, unknown>)[field];
        return {
          verb,
          args: { ...good, [field]: typeof was === "object" ? 7 : one<unknown>([{}, [], [1]]) },
          codes: bad,
        };
      }
      case 4:
        if (!("station" in good)) return { verb: `${verb}${verb}`, args: good, codes: bad };
        return { verb, args: { ...good, station: NOWHERE }, codes: [elsewhere] };
      case 5:
        return {
          verb: one(["", "begn", "__proto__", "toString", "STATUS", "status ", "\u202estatus", "x".repeat(300)]),
          args: good,
          codes: bad,
        };
      case 6:
        return { verb, args: { ...good, nest: NEST }, codes: bad };
      default:
        return {
          verb: "begin",
          args: {
            ...GOOD.begin,
            ...one<object>([
              { fatigue_threshold: 1e308 },
              { fatigue_threshold: -0 },
              { trainee: "x".repeat(1000) },
              { trainee: "\u0000" },
              { side: "LEFT" },
              { options: { grace_s: -1e-300 } },
              { options: { ["__proto__"]: { grace_s: 1 } } },
            ]),
          },
          codes: bad,
        };
    }
  };

  return () => {
    sent += 1;
    const id = uuidOf(sent);
    const { verb, args, codes } = spoilt();
    const depth = 1 + upTo(12);
    const text = JSON.stringify(wrap(verb, id, args)).replace(`"${NEST}"`, "[".repeat(depth) + "]".repeat(depth));
    const bytes = Buffer.from(text);
    const unread = { verb, request_id: null, codes: ["bad-request"] } as const;
    switch (upTo(12)) {
      case 0:
        return { ...unread, bytes: bytes.subarray(0, 1 + upTo(bytes.length - 1)) };
      case 1: {
        const at = 1 + upTo(bytes.length - 1);
        const foreign = Buffer.from(one([[0xff], [0xc3, 0x28], [0xed, 0xa0, 0x80], [0x00], [0xc0, 0x80]]));
        return { ...unread, bytes: Buffer.concat([bytes.subarray(0, at), foreign, bytes.subarray(at)]) };
      }
      case 2:
        return {
          ...unread,
          bytes: Buffer.from(one([`[${text}]`, "1e999", '"x"', "null", "{}", "[".repeat(5000), DEEP])),
        };
      case 3: {
        const wrong = one<unknown>([undefined, null, 7, "", "../..", id.slice(1), `${id}\n`, [id], { id }]);
        return { ...unread, bytes: Buffer.from(JSON.stringify(wrap(verb, wrong, args))) };
      }
      case 4: {
        // One byte is another; what was asked of no station here is asked of none after it.
        const nowhere = Buffer.from(JSON.stringify(wrap("end", id, { station: NOWHERE, because: "pain" })));
        nowhere[upTo(nowhere.length)] = one([0x00, 0x20, 0x22, 0x2c, 0x5c, 0x7b, 0x7d, 0x80, 0xff, 0x31, 0x61]);
        return { verb: "end", bytes: nowhere, request_id: undefined, codes: ["bad-request", elsewhere] };
      }
      default:
        return { verb, bytes, request_id: id, codes };
    }
  };
}
