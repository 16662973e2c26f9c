"""Print the n-th command of the README: the content of its n-th block of shell commands."""

import pathlib
import re
import sys


def main() -> int:
    """Print one block and return the exit status."""
    readme, wanted = sys.argv[1], int(sys.argv[2])
    blocks = re.findall(r"^```sh\n(.*?)^```", pathlib.Path(readme).read_text("utf-8"), re.DOTALL | re.MULTILINE)
    if len(blocks) < wanted:
        print(f"{readme} has {len(blocks)} blocks of shell commands, not {wanted}", file=sys.stderr)
        return 2
    print(blocks[wanted - 1].strip())
    return 0


if __name__ == "__main__":
    sys.exit(main())
