"""The hub of hub.sh: two users, no passwords worth keeping, all files in one
temporary folder. Not a hub to copy: everyone's servers run as one user."""
import os

scratch = os.environ["HUB_SCRATCH"]
public, hub, proxy = os.environ["HUB_PORTS"].split()

c = get_config()  # noqa: F821 (the hub defines it)
c.JupyterHub.bind_url = f"http://127.0.0.1:{public}"
c.JupyterHub.hub_bind_url = f"http://127.0.0.1:{hub}"
c.ConfigurableHTTPProxy.api_url = f"http://127.0.0.1:{proxy}"
c.ConfigurableHTTPProxy.pid_file = f"{scratch}/proxy.pid"
c.JupyterHub.db_url = f"sqlite:///{scratch}/hub.sqlite"
c.JupyterHub.cookie_secret_file = f"{scratch}/cookie"

c.JupyterHub.authenticator_class = "dummy"
c.DummyAuthenticator.password = os.environ["HUB_PASSWORD"]
c.JupyterHub.spawner_class = "simple"
c.SimpleLocalProcessSpawner.home_dir_template = f"{scratch}/homes/{{username}}"
c.Spawner.args = ["--allow-root"]
c.Spawner.start_timeout = c.Spawner.http_timeout = 300
# Where "rotorhum install -prefix" put the kernel for everybody. On a hub that is
# used, -sys puts it where every server looks by itself.
c.Spawner.environment = {"JUPYTER_PATH": f"{scratch}/prefix/share/jupyter"}
