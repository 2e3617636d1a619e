// Steps in which things move, metres.
export const GRID_M = 0.05;
export const FINE_M = 0.01;
