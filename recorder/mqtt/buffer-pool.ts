/**
 * mqtt-packet keeps a buffer of a few bytes for every length of a packet under 16,384 bytes that it has written, each cut
 * from Node.js's pool, and a piece keeps its whole pool alive: 135 MB [measured] once all lengths have come
 * (mqttjs/mqtt-packet#163). With pools this small it is 8 MB at the very most; a buffer too large for them is made by itself,
 * which costs some two microseconds [measured].
 */
const POOL_BYTES = 512;

export function shrinkBufferPool(): void {
  Buffer.poolSize = POOL_BYTES;
}
