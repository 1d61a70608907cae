/** What somebody who looks at a port should know of it. Pure. */
import type { ListedPort } from "./port-list.ts";
import { permissionTrouble } from "./trouble.ts";

/** How the configuration should call it: by a link that leads to this port whatever else is plugged in. */
export function bestPath({ device, by_id, by_path, usb, same_name }: ListedPort): string {
  const [id, path] = [by_id[0], by_path[0]];
  if (same_name.length > 0) return path ?? device;
  // An adapter without a serial number has the name of every other of its make: the second one would take it over.
  return usb?.serial === null ? (path ?? id ?? device) : (id ?? path ?? device);
}

/** One sentence each; none: nothing to mind. `configured` is what a station calls it, or null. */
export function adviceOn(port: ListedPort, user: string, configured: string | null): string[] {
  const { device, by_id, usb, same_name, group, mode, may_open } = port;
  const best = bestPath(port);
  const advice: string[] = [];
  if (same_name.length > 0) {
    advice.push(
      `${same_name.join(" and ")} would have the same name under /dev/serial/by-id, which leads to one of them only: use by-path.`,
    );
  } else if (usb?.serial === null && best !== by_id[0] && by_id.length > 0) {
    advice.push("it has no serial number, so a second adapter of its make would take its name over: use by-path.");
  }
  if (usb !== null && best === device) {
    advice.push("it has no link that stays: another adapter may be given this name after a restart.");
  }
  if (configured !== null && usb !== null && configured !== best && (configured === device || same_name.length > 0)) {
    advice.push(`the station calls it ${configured}, which may lead to another adapter: call it ${best}.`);
  }
  if (!may_open) {
    advice.push(permissionTrouble({ path: device, user, node: { group, mode: Number.parseInt(mode, 8) } }));
  }
  return advice;
}
