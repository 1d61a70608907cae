/** What speaks for and against the port of a station, and whatever else is on it. Pure. */
import type { Finding } from "../../../calibration/self-test/finding.ts";
import { adviceOn, bestPath } from "../../serial/port-advice.ts";
import type { ListedPort } from "../../serial/port-list.ts";
import type { PortSurroundings } from "../../serial/port-surroundings.ts";
import { fault, good, notice } from "./findings.ts";

/** A reading every 12.5 ms: what waits longer comes with the next one. */
const LATENCY_NOTICE_MS = 10;
/** They take an adapter's driver away, and the port with it. */
const TAKES_PORTS = "brltty";

/** `user` is whoever asks. A port whose surroundings are not shown, such as a pseudo-terminal, has few findings. */
export function portFindings(seen: PortSurroundings, user: string): readonly Finding[] {
  const { device, port } = seen;
  if (device === null) return [missing(seen)];
  return [
    pathFinding(seen, port, user),
    ...(port === null ? [] : [rightsFinding(port)]),
    ...latency(seen),
    ...sleep(seen),
    ...strangers(seen),
    consoleFinding(seen),
  ];
}

function missing({ path, meddlers }: PortSurroundings): Finding {
  const taken = meddlers.some(({ name }) => name === TAKES_PORTS);
  return fault(
    "port",
    `The configured port ${path} is not there.`,
    taken
      ? `Plug the board in; if it is, ${TAKES_PORTS}, which runs here, may have taken its adapter away: remove it.`
      : "Plug the board in, or correct serial_port: `tidemark serial-ports` lists what is there.",
    { path },
  );
}

function pathFinding({ path, device }: PortSurroundings, port: ListedPort | null, user: string): Finding {
  const values = { path, device };
  if (port === null)
    return good("port", `The port ${path} leads to ${device}, no serial port of this machine.`, values);
  const best = bestPath(port);
  const wavers = port.same_name.length > 0 && path !== best && !port.by_path.includes(path);
  if (port.usb !== null && (path === device || wavers)) {
    const [why] = adviceOn(port, user, path).filter((sentence) => sentence.includes(path));
    const remedy = best === device ? "Give it a link that stays, by a udev rule." : `Set serial_port to ${best}.`;
    return notice(
      "port",
      why === undefined ? `The port ${path} has a name that may change.` : capital(why),
      remedy,
      values,
    );
  }
  const leads = path === device ? "" : `, which leads to ${device}`;
  return good("port", `The port is ${path}${leads}, a name that stays.`, values);
}

function rightsFinding({ device, group, mode, held_by, may_open }: ListedPort): Finding {
  const values = { device, group, mode, held_by, may_open };
  const open_to = Number.parseInt(mode, 8);
  if ((open_to & 0o006) !== 0) {
    const what = `Every account of this machine may use ${device} (mode ${mode}).`;
    return notice(
      "rights",
      what,
      "Take that right away with a udev rule, MODE 0660: any program may upset the board.",
      values,
    );
  }
  if (held_by === null && ((open_to & 0o060) !== 0o060 || group === "root")) {
    const what = `Nobody has ${device} open, and its group ${group} (mode ${mode}) lets no account but root in.`;
    return fault(
      "rights",
      what,
      "Give it the group dialout and mode 0660 by a udev rule, and put the recorder's account into that group.",
      values,
    );
  }
  const held = held_by === null ? "no process that can be seen has it locked" : `process ${held_by} has it open`;
  return good("rights", `${device} is open to the group ${group} (mode ${mode}); ${held}.`, values);
}

function latency({ latency_timer_ms, device }: PortSurroundings): readonly Finding[] {
  if (latency_timer_ms === null) return [];
  const values = { latency_timer_ms };
  if (latency_timer_ms < LATENCY_NOTICE_MS) {
    return [good("latency-timer", `The adapter hands bytes on after ${latency_timer_ms} ms at most.`, values)];
  }
  const name = device?.replace("/dev/", "") ?? "";
  return [
    notice(
      "latency-timer",
      `The adapter gathers bytes for ${latency_timer_ms} ms: readings come in bursts, and the stop that much later.`,
      `Run \`echo 1 | sudo tee /sys/class/tty/${name}/device/latency_timer\` and make that a udev rule.`,
      values,
    ),
  ];
}

function sleep({ may_sleep }: PortSurroundings): readonly Finding[] {
  if (may_sleep === null) return [];
  if (!may_sleep) return [good("usb-sleep", "The adapter is not put to sleep while it is quiet.")];
  const what = "The adapter may be put to sleep while it is quiet, and some do not wake up as they were.";
  return [notice("usb-sleep", what, "Write `on` to power/control of its USB device by a udev rule.")];
}

/** Programs that try ports which are not theirs matter on USB only. */
function strangers({ meddlers, no_modem, port }: PortSurroundings): readonly Finding[] {
  if (port?.usb === undefined || port.usb === null) return [];
  const { vendor, product } = port.usb;
  const named = meddlers.map(({ name }) => name);
  const findings: Finding[] = [];
  if (named.includes("ModemManager") && !no_modem) {
    const rule = `ATTRS{idVendor}=="${vendor}", ATTRS{idProduct}=="${product}", ENV{ID_MM_DEVICE_IGNORE}="1"`;
    findings.push(
      notice(
        "modem-manager",
        "ModemManager runs here and was not told to keep away from this adapter: it may write to the board when it is plugged in.",
        `Remove it, or add the udev rule ${rule} and plug the adapter in again.`,
      ),
    );
  }
  if (named.includes(TAKES_PORTS)) {
    findings.push(
      notice(
        "braille",
        `${TAKES_PORTS} runs here, which takes adapters of common makes for braille displays.`,
        "Remove it where nobody needs it: the port may be gone after the next start.",
      ),
    );
  }
  const kept = named.includes("ModemManager")
    ? "ModemManager was told to keep away from it"
    : "No program that tries ports of others runs here";
  return findings.length > 0 ? findings : [good("meddlers", `${kept}.`)];
}

function consoleFinding({ device, is_console, terminal_of }: PortSurroundings): Finding {
  const [login] = terminal_of;
  if (is_console) {
    return fault(
      "console",
      `The kernel writes its own messages to ${device}, between whatever is said to the board.`,
      `Take console= of that port out of the kernel's command line (on a Raspberry Pi in cmdline.txt), and restart.`,
    );
  }
  if (login !== undefined) {
    return fault(
      "console",
      `${login.name} (process ${login.pid}) has ${device} as its terminal: it takes what the board says, and answers it.`,
      `Run \`sudo systemctl disable --now serial-getty@${device?.replace("/dev/", "")}\`.`,
    );
  }
  return good("console", `Neither the kernel nor a login uses ${device}.`);
}

const capital = (text: string): string => `${text.slice(0, 1).toUpperCase()}${text.slice(1)}`;
