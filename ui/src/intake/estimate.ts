// Leg length, greater trochanter to floor, as a share of the height: Drillis &
// Contini 1966, in Winter 2009 (from memory). Single people differ by 3 to 4 %.
const share = 0.53;

/** An estimate of the leg length from the height, both in m, to the millimetre. */
export const legLength = (heightM: number): number => Math.round(heightM * share * 1000) / 1000;
