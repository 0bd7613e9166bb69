"""A kernel of the very interpreter that runs now, whatever is installed elsewhere."""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
from jupyter_client.manager import AsyncKernelManager

# Drawing charts imports a schema checker, which builds a grammar of internationalised addresses
# if the package for it is there. That takes seconds in every kernel, and no chart has any.
_LAUNCH = (
    "import sys; sys.modules['rfc3987_syntax'] = None; "
    "from ipykernel.kernelapp import launch_new_instance; launch_new_instance()"
)


class ThisInterpreter(KernelSpecManager):
    """Answers every name with the running interpreter, so that no installed spec is needed."""

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        return KernelSpec(
            argv=[sys.executable, "-c", _LAUNCH, "-f", "{connection_file}"],
            display_name="Python 3",
            language="python",
        )


class ThisKernel(AsyncKernelManager):
    """Starts and stops one kernel of this interpreter, reached through files where it can be.

    Sockets that are files in a private folder cannot be reached by other people on this computer.
    """

    def __init__(self, **settings) -> None:
        super().__init__(kernel_spec_manager=ThisInterpreter(), **settings)
        if sys.platform != "win32":
            self._folder = TemporaryDirectory(prefix="steelyard-", ignore_cleanup_errors=True)
            self.transport = "ipc"
            self.connection_file = str(Path(self._folder.name) / "kernel.json")
            self.ip = str(Path(self._folder.name) / "kernel")
