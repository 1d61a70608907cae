/** The configuration of a recorder that measures nothing: one station, whose port is none. */

/** `at` gives the paths of its files; `broker`: the lines of that table. */
export const portless = (at: (name: string) => string, broker: readonly string[]): string =>
  [
    'site = "hall"',
    'recorder = "box"',
    "[broker]",
    ...broker,
    "[store]",
    `path = "${at("tidemark.db")}"`,
    "[control]",
    `socket = "${at("control/a.sock")}"`,
    `service_socket = "${at("control/b.sock")}"`,
    'mqtt = ["read"]',
    "[[station]]",
    'id = "row"',
    'exercise = "row"',
    `serial_port = "${at("no-port")}"`,
    'resistance = "driven"',
    "cell_capacity_N = 5000",
    "force_limit_N = 4000",
    "working_force_N = 2500",
    "latitude_deg = 52.0",
    "",
  ].join("\n");
