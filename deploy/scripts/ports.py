"""Find a free port on the loopback address, and say so when the wanted one is taken."""

import socket

LOOPBACK = "127.0.0.1"


def is_free(port: int) -> bool:
    """Say whether nothing listens on the port now."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((LOOPBACK, port))
        except OSError:
            return False
    return True


def any_free() -> int:
    """Return a port that the system says is free."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.bind((LOOPBACK, 0))
        return int(probe.getsockname()[1])


def free_port(wanted: int, *, tries: int = 50) -> int:
    """Return the wanted port or the next free one above it."""
    for port in range(wanted, min(wanted + tries, 65536)):
        if is_free(port):
            if port != wanted:
                print(f"Port {wanted} is taken; using {port} instead.", flush=True)
            return port
    return any_free()
