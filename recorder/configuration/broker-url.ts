/** What an address of a broker has to be. An address that can never work is a fault of the configuration, not one to retry. */

const SCHEMES = ["mqtt:", "mqtts:", "ws:", "wss:"];

/** What is wrong with `text`, and what would do; null: nothing. Never repeats it, for it may hold a password. */
export function faultOfBrokerUrl(text: string): string | null {
  if (!SCHEMES.some((scheme) => text.startsWith(`${scheme}//`))) {
    return "must start with mqtt://, mqtts://, ws:// or wss://";
  }
  const url = URL.canParse(text) ? new URL(text) : null;
  if (/^\w+:\/\/[^/]*@/.test(text)) {
    return "must not hold a user or password: put them in broker.username and in the file that broker.password_file names";
  }
  if (url === null || url.hostname === "" || /\s/.test(text)) {
    return "is not an address: write it like mqtts://broker.example:8883, with a port from 1 to 65535";
  }
  return url.port === "0" ? "has port 0, which nothing listens on: write the broker's own" : null;
}

export const isEncrypted = (url: string): boolean => /^(mqtts|wss):/.test(url);

/** Names and addresses of this machine itself: RFC 6761 section 6.3, RFC 1122 section 3.2.1.3, RFC 4291 section 2.5.3. */
export function isLoopback(url: string): boolean {
  const host = URL.canParse(url) ? new URL(url).hostname.toLowerCase() : "";
  return host === "localhost" || host === "[::1]" || /^127(\.\d{1,3}){3}$/.test(host);
}
