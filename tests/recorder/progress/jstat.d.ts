/** What the tests use of the statistics library, which brings no types. */
declare module "jstat" {
  interface Distribution {
    /** Of degrees of freedom. */
    inv(probability: number, degrees_of_freedom: number): number;
    cdf(value: number, degrees_of_freedom: number): number;
  }
  const statistics: { readonly studentt: Distribution; readonly chisquare: Distribution };
  export default statistics;
}
