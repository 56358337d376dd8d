"""Solves the Vold-Kalman normal equations of a case file with SciPy's sparse LU and compares: exit code 0 if they agree to 1e-8.

minimise |y - sum_k C_k x_k|^2 + r^2 sum_k |D^p x_k|^2  (Vold & Leuridan 1993; Tuma 2005)
Lines of the case file: poles; r^2; then y, carrier a, carrier b, envelope a, envelope b (complex as two columns) a sample.
"""
import sys

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as sla

with open(sys.argv[1]) as case:
    poles = int(case.readline())
    weight = float(case.readline())
    rows = np.loadtxt(case)
y = rows[:, 0]
carriers = [rows[:, 1] + 1j * rows[:, 2], rows[:, 3] + 1j * rows[:, 4]]
given = [rows[:, 5] + 1j * rows[:, 6], rows[:, 7] + 1j * rows[:, 8]]
n = len(y)
difference = sp.identity(n, format="csr")
for _ in range(poles):
    m = difference.shape[0]
    difference = (sp.eye(m - 1, m) - sp.eye(m - 1, m, k=1)) @ difference
smooth = weight * (difference.T @ difference)
data = sp.hstack([sp.diags(c) for c in carriers]).tocsr()
normal = (data.getH() @ data + sp.block_diag([smooth, smooth])).tocsc()
# With three poles the equations are ill conditioned, and a plain solution differs from one BLAS to another by as much as is
# allowed. What is left is worked out in extended precision and solved for again (iterative refinement; Golub and Van Loan,
# "Matrix Computations", chapter 3, from memory), which gives the solution to all digits of a double.
right = data.getH() @ y
factors = sla.splu(normal)
rows, columns, values = sp.find(normal)
values = values.astype(np.clongdouble)
solution = factors.solve(right).astype(np.clongdouble)
for _ in range(3):
    product = np.zeros(2 * n, dtype=np.clongdouble)
    np.add.at(product, rows, values * solution[columns])
    solution += factors.solve((right - product).astype(complex))
worst = max(np.max(np.abs(solution[i * n:(i + 1) * n] - given[i])) for i in range(2))
print(f"largest difference {worst:.3g} with {poles} poles")
sys.exit(0 if worst < 1e-8 * np.max(np.abs(solution)) else 1)
