/** How many runners are asked for at a time. */
export const many = 30;

/** The address of what the first page asks for first: the runners seen last. */
export const firstRunners = `/api/runners?limit=${many}`;
