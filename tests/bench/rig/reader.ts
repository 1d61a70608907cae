/** The least that reads lines: serial ports, the line parser, a count. Its processor time is what reading itself costs. */
import { ReadlineParser } from "@serialport/parser-readline";
import { SerialPort } from "serialport";

let lines = 0;
for (const path of process.argv.slice(2)) {
  const port = new SerialPort({ path, baudRate: 115_200, hupcl: false });
  port.pipe(new ReadlineParser({ delimiter: "\n" })).on("data", () => {
    lines += 1;
  });
}
process.on("message", (asked) => {
  if (asked === "lines") process.send?.({ lines });
});
