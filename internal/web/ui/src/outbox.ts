export function startOutbox(): void {}
