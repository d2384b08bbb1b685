/** What the first page asks for first: the runners seen last. */
export const firstRunners = "/api/runners?limit=30";
