/** How the line is set, on both sides. */
export const BAUD_RATE = 115_200;
